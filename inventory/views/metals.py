"""Metals of the school: what they are, what to mind, and what they cost on which day."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import IntegrityError, transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.models import record
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory import metals as table
from inventory.buying.prices import correct_price, record_price
from inventory.forms.metals import CorrectPriceForm, MetalForm, PriceForm
from inventory.models import SentForm, StockPiece
from inventory.queries import metal_for, metals_listed_for, price_for, prices_of

from .ways import crumbs, rack_ways

PRICES_PER_PAGE = 20


@requires(Action.SEE_RACK)
@require_GET
def metals(request: Visit) -> HttpResponse:
    rows = metals_listed_for(request.user)
    return render(
        request,
        "inventory/buying/metals.html",
        {
            "page": Paginator(rows, 50).get_page(request.GET.get("page")),
            "sections": rack_ways("metals"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def metal_new(request: Visit) -> HttpResponse:
    form = MetalForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                made = form.save()
                record(request.user, "new-metal", made, f"put {made} on the list")
        except IntegrityError:
            form.add_error(None, "That metal is on the list already.")
        else:
            messages.success(request, f"{made} is on the list. Next: what a sheet of it costs.")
            if form.typed is not None and form.typed.caution:
                messages.warning(request, form.typed.caution)
            return redirect("metal", made.pk)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "New metal",
            "lead": "An alloy in a thickness. The thickness in millimetres is what counts; a gauge "
            "is only a name for it.",
            "button": "Put it on the list",
            "back_url": reverse("metals"),
            "crumbs": crumbs(("Metals and prices", reverse("metals")), "New metal"),
        },
    )


@requires(Action.SEE_RACK)
@require_GET
def metal(request: Visit, pk: int) -> HttpResponse:
    one = metal_for(request.user, pk)
    counts = one.stock_pieces.filter(state=StockPiece.State.RACK).aggregate(
        sheets=Count("pk", filter=Q(kind="sheet")), offcuts=Count("pk", filter=Q(kind="offcut"))
    )
    page = Paginator(prices_of(one), PRICES_PER_PAGE).get_page(request.GET.get("page"))
    blade = table.first_choice_blade(one.thickness_mm)
    kerf = table.kerf_advice(blade.blade)
    return render(
        request,
        "inventory/buying/metal.html",
        {
            "metal": one,
            "alloy": one.alloy,
            "page": page,
            "counts": counts,
            "thickness_label": table.thickness_label(one.thickness_mm, one.alloy_code),
            "cautions": [caution.text for caution in one.alloy.cautions],
            "blade": blade,
            "kerf": kerf,
            "nickel": one.alloy.nickel_share * 100,
            "zinc": one.alloy.zinc_share * 100,
            "crumbs": crumbs(("Metals and prices", reverse("metals")), str(one)),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def metal_price_new(request: Visit, pk: int) -> HttpResponse:
    one = metal_for(request.user, pk)
    form = PriceForm(request.POST or None, acting=request.user, metal=one)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                if SentForm.is_first(data["once"], request.user):
                    record_price(
                        one,
                        data["amount"],
                        width_mm=data["width"],
                        height_mm=data["height"],
                        dated=data["dated"],
                        acting=request.user,
                        remark=data["remark"],
                    )
                    form.keep_answer(one, acting=request.user)
            return done(request, "The price is written down.", "metal", pk)
    address = reverse("metal", args=[pk])
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": f"Price of {one}",
            "lead": "Earlier prices stay as they are; quotes already made keep theirs.",
            "button": "Write the price down",
            "back_url": address,
            "crumbs": crumbs(
                ("Metals and prices", reverse("metals")), (str(one), address), "Price"
            ),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def metal_price_correct(request: Visit, pk: int) -> HttpResponse:
    price = price_for(request.user, pk)
    address = reverse("metal", args=[price.metal_id])
    if not price.is_in_force():
        raise Refused("That price was corrected already: correct the one that stands now.")
    form = CorrectPriceForm(request.POST or None, acting=request.user, corrects=price)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                made = correct_price(
                    price,
                    acting=request.user,
                    reason=data["reason"],
                    amount=data["amount"],
                    width_mm=data["width"],
                    height_mm=data["height"],
                    dated=data["dated"],
                    remark=data["remark"],
                    withdrawn=data["withdrawn"],
                )
                form.keep_answer(price.metal, acting=request.user)
            said = "is corrected" if made else "stood so already"
            return done(request, f"The price {said}.", address)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": f"Correct a price of {price.metal}",
            "lead": "What it said before stays among the metal's prices. Quotes already made keep "
            "theirs; sheets are corrected with their purchase.",
            "button": "Write the correction down",
            "back_url": address,
            "crumbs": crumbs(
                ("Metals and prices", reverse("metals")),
                (str(price.metal), address),
                "Correct a price",
            ),
        },
    )


@requires(Action.MANAGE_RACK)
@require_POST
def metal_retire(request: Visit, pk: int) -> HttpResponse:
    """Take the metal off the list for new purchases, or put it back on."""
    one = metal_for(request.user, pk)
    off = request.POST.get("off") == "1"
    if off != (one.retired_at is not None):
        one.retired_at = timezone.now() if off else None
        with transaction.atomic():
            one.save(update_fields=["retired_at"])
            words = f"took {one} off the list" if off else f"put {one} back on the list"
            record(request.user, "retire-metal", one, words)
        messages.success(request, f"{one} is {'off' if off else 'back on'} the list.")
    return redirect("metal", pk)
