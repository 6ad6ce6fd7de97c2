"""Supplies: what is used up at the bench, its price and how long one lasts."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.figures.rounding import plain
from classroom.models import record
from classroom.permissions import Action, Visit, requires
from classroom.queries import history_of
from inventory.buying import supplying
from inventory.forms.supplies import ConsumableForm, CorrectEntryForm, SupplyStockForm
from inventory.models import Consumable, SentForm
from inventory.queries import consumable_for, consumables_for, supply_entry_for
from inventory.spending.causes import cause_link

from .ways import crumbs, rack_ways


@requires(Action.SEE_RACK)
@require_GET
def supplies(request: Visit) -> HttpResponse:
    rows = consumables_for(request.user).order_by("retired_at", "kind", "name", "pk")
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    return render(
        request, "inventory/buying/supplies.html", {"page": page, "sections": rack_ways("supplies")}
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def supply_new(request: Visit) -> HttpResponse:
    form = ConsumableForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            if SentForm.is_first(form.cleaned_data["once"], request.user):
                made = form.save()
                record(request.user, "new-supply", made, f"put {made} among the supplies")
        messages.success(request, f"{form.cleaned_data['name']} is among the supplies.")
        return redirect("supplies")
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "New supply",
            "lead": "Its price and how long one lasts give the rate at which projects pay for it.",
            "button": "Save the supply",
            "back_url": reverse("supplies"),
            "crumbs": crumbs(("Supplies", reverse("supplies")), "New supply"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def supply_edit(request: Visit, pk: int) -> HttpResponse:
    one = consumable_for(request.user, pk)
    called, before = str(one), _terms(one)
    form = ConsumableForm(request.POST or None, instance=one, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            changed = form.save()
            text = f"{changed}: {_terms(changed)}, before {before}"
            why = form.cleaned_data["why"]
            record(request.user, "change-supply", changed, text, reason=why)
            form.keep_answer(changed, acting=request.user)
        messages.success(request, f"{changed} is changed. Quotes already made keep their rate.")
        return redirect("supplies")
    return _shown(request, one, called, form=form)


def _shown(request: Visit, one: Consumable, called: str, **forms: Any) -> HttpResponse:
    past = history_of(one)[:20]
    fresh = {
        "form": forms.get("form") or ConsumableForm(instance=one, acting=request.user),
        "stock_form": forms.get("stock_form") or SupplyStockForm(supply=one),
    }
    moves = one.movements.select_related("actor").order_by("-at", "-pk")
    page = Paginator(moves, 20).get_page(request.GET.get("page"))
    return render(
        request,
        "inventory/buying/supply_edit.html",
        {
            **fresh,
            "supply": one,
            "page": page,
            "moves": [(move, cause_link(move.cause)) for move in page.object_list],
            "learned": supplying.learned(one),
            "title": f"Change {called}",
            "back_url": reverse("supplies"),
            "entries": [
                {
                    "when": row.at,
                    "who": row.actor.display_name if row.actor else "",
                    "what": row.text,
                    "why": row.detail.get("reason") or row.detail.get("why", ""),
                }
                for row in past
            ],
            "crumbs": crumbs(("Supplies", reverse("supplies")), called),
        },
    )


@requires(Action.MANAGE_RACK)
@require_POST
def supply_stock(request: Visit, pk: int) -> HttpResponse:
    """Some came, or somebody counted how many there are."""
    one = consumable_for(request.user, pk)
    form = SupplyStockForm(request.POST, supply=one)
    if form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            book = supplying.receive if data["what"] == "receive" else supplying.count
            with transaction.atomic():
                if SentForm.is_first(data["once"], request.user):
                    book(one, data["number"], acting=request.user, reason=data["reason"])
                    form.keep_answer(one, acting=request.user)
            return done(request, f"{one} is written down.", "supply_edit", pk)
    return _shown(request, one, str(one), stock_form=form)


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def supply_entry_correct(request: Visit, pk: int) -> HttpResponse:
    """So many came, or were counted, and not what was written down."""
    entry = supply_entry_for(request.user, pk)
    one = entry.consumable
    form = CorrectEntryForm(request.POST or None, entry=entry)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                made = supplying.correct_entry(
                    entry, data["number"], acting=request.user, reason=data["reason"]
                )
                form.keep_answer(one, acting=request.user)
            said = "is corrected" if made else "stood so already"
            return done(request, f"The entry {said}.", "supply_edit", one.pk)
    address = reverse("supply_edit", args=[one.pk])
    day = timezone.localtime(entry.at)
    now = supplying.number_of(entry)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Correct an entry",
            "lead": f"{one}, {day.day} {day:%b %Y}: “{entry.get_kind_display()}” counts as "
            f"{now.normalize():f} now. The entry stays; a new one makes up the difference.",
            "button": "Write the correction down",
            "back_url": address,
            "crumbs": crumbs(("Supplies", reverse("supplies")), (str(one), address), "Correct"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_POST
def supply_learn(request: Visit, pk: int) -> HttpResponse:
    """Take over how long one really lasts as the rate of new quotes."""
    one = consumable_for(request.user, pk)
    lasts = supplying.take_over(one, acting=request.user)
    messages.success(request, f"One {one.unit} counts for {lasts} from now on.")
    return redirect("supply_edit", pk)


@requires(Action.MANAGE_RACK)
@require_POST
def supply_retire(request: Visit, pk: int) -> HttpResponse:
    """Take the supply out of new quotes, or put it back in."""
    one = consumable_for(request.user, pk)
    off = request.POST.get("off") == "1"
    if off != (one.retired_at is not None):
        one.retired_at = timezone.now() if off else None
        with transaction.atomic():
            one.save(update_fields=["retired_at"])
            words = f"took {one} out of use" if off else f"took {one} into use again"
            record(request.user, "retire-supply", one, words)
        messages.success(request, f"{one} is {'out of use' if off else 'in use again'}.")
    return redirect("supplies")


def _terms(one: Consumable) -> str:
    return f"{plain(one.price, 2)} a {one.unit}, lasting {one.uses_per_unit}"
