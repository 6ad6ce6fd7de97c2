"""The scrap boxes: one for each alloy, weighed in and out."""

from __future__ import annotations

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods

from classroom.acting import done, said_on
from classroom.figures.units import format_mass
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory import metals
from inventory.forms.lists import SaleFilter, WeighingFilter
from inventory.forms.money import CorrectWeighingForm, SellScrapForm, WeighForm
from inventory.models import ScrapSale, SentForm
from inventory.queries import sale_for, sales_for, scrap_for, weighing_for
from inventory.rack import scrap
from inventory.spending.causes import cause_link
from inventory.spending.ledger import open_budget

from .narrowing import narrowed_page
from .ways import crumbs, rack_ways

ENTRIES_PER_PAGE = 25


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def scrap_boxes(request: Visit) -> HttpResponse:
    form = WeighForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            put = scrap.weigh_scrap if data["direction"] == "in" else scrap.take_from_box
            with transaction.atomic():
                if SentForm.is_first(data["once"], request.user):
                    put(
                        request.user.school,
                        data["alloy_code"],
                        data["weight"],
                        acting=request.user,
                        reason=data["reason"],
                    )
                    form.keep_answer(request.user.school, acting=request.user)
            return done(request, "The weight is written down.", "scrap_boxes")
    rows = scrap_for(request.user).select_related("actor")
    listed = narrowed_page(request, rows, WeighingFilter, per_page=ENTRIES_PER_PAGE)
    boxes = scrap.scrap_boxes(request.user.school)
    return render(
        request,
        "inventory/scrap/scrap_boxes.html",
        listed
        | {
            "form": form,
            "boxes": boxes,
            "entries": [(entry, cause_link(entry.cause)) for entry in listed["page"]],
            "sections": rack_ways("scrap_boxes"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def scrap_correct(request: Visit, pk: int) -> HttpResponse:
    entry = weighing_for(request.user, pk)
    if entry.cause.startswith("scrapsale:"):
        return redirect("scrap_sale_correct", int(entry.cause.partition(":")[2]))
    if entry.is_correction:
        raise Refused("That row is a correction: correct the weighing that it names.")
    form = CorrectWeighingForm(request.POST or None, entry=entry, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                made = scrap.correct_weighing(
                    entry,
                    data["weight"],
                    acting=request.user,
                    reason=data["reason"] + form.answered,
                )
                form.keep_answer(entry, acting=request.user)
            said = "is corrected" if made else "stood so already"
            return done(request, f"The weighing {said}.", "scrap_boxes")
    counted = format_mass(abs(scrap.weight_of(entry)), request.user.school.units)
    day = timezone.localtime(entry.at)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Correct a weighing",
            "lead": f"{capfirst(entry.alloy.plain_name)}, {day.day} {day:%b %Y, %H:%M}: it "
            f"counts for {counted} now. The row stays; a new one makes up the difference.",
            "button": "Write the correction down",
            "back_url": reverse("scrap_boxes"),
            "crumbs": crumbs(("Scrap boxes", reverse("scrap_boxes")), "Correct"),
        },
    )


@requires(Action.MANAGE_BUDGET)
@require_http_methods(["GET", "POST"])
def scrap_sell(request: Visit) -> HttpResponse:
    """Scrap is sold out of its box, and what it brings goes into a budget."""
    form = SellScrapForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                if not SentForm.is_first(data["once"], request.user):
                    return redirect("scrap_sales")
                course = data["budget"]
                sale = scrap.sell_scrap(
                    request.user.school,
                    data["alloy_code"],
                    data["weight"],
                    data["amount"],
                    acting=request.user,
                    budget=open_budget(course) if course else None,
                    sold_on=data["sold_on"],
                    buyer=data["buyer"],
                )
                form.keep_answer(sale, acting=request.user)
            return done(request, "The sale is written down.", "scrap_sale", sale.pk)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Sell scrap",
            "lead": "The weight leaves its box; what it brings goes into the budget you choose.",
            "button": "Write the sale down",
            "back_url": reverse("scrap_boxes"),
            "crumbs": crumbs(("Scrap boxes", reverse("scrap_boxes")), "Sell scrap"),
        },
    )


@requires(Action.MANAGE_BUDGET)
@require_GET
def scrap_sales(request: Visit) -> HttpResponse:
    listed = narrowed_page(request, sales_for(request.user), SaleFilter, per_page=ENTRIES_PER_PAGE)
    return render(
        request,
        "inventory/scrap/scrap_sales.html",
        listed
        | {
            "rows": [_named(sale) for sale in listed["page"]],
            "crumbs": crumbs(("Scrap boxes", reverse("scrap_boxes")), "Sales"),
        },
    )


@requires(Action.MANAGE_BUDGET)
@require_GET
def scrap_sale(request: Visit, pk: int) -> HttpResponse:
    sale = sale_for(request.user, pk)
    return render(
        request,
        "inventory/scrap/scrap_sale.html",
        {
            **_named(sale),
            "crumbs": crumbs(
                ("Scrap boxes", reverse("scrap_boxes")), ("Sales", reverse("scrap_sales")), "Sale"
            ),
        },
    )


def _named(sale: ScrapSale) -> dict[str, object]:
    after = getattr(sale, "correction", None)
    return {"sale": sale, "alloy": metals.alloy(sale.alloy_code), "corrected_by": after}
