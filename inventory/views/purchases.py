"""Receiving metal: a purchase of several lines, the list of purchases, one purchase."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.db.models import Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.views.decorators.http import require_GET, require_http_methods

from classroom.acting import said_on
from classroom.figures.units import format_mass, format_share
from classroom.models import User
from classroom.permissions import Action, Visit, requires
from inventory.buying import ordering, receiving
from inventory.buying.prices import bought_from, record_price
from inventory.buying.sheet_line import MOST_LINES, price_of_one
from inventory.forms.fields import begin_in_last
from inventory.forms.lists import PurchaseFilter
from inventory.forms.receive import LineForm, LineFormSet, LineFormSetBase, PurchaseForm
from inventory.models import MetalOrder, PurchaseLine, SentForm
from inventory.queries import (
    corrections_of,
    metals_for,
    order_for,
    orders_for,
    purchase_for,
    purchases_for,
    sheets_of,
)
from inventory.rack.weighing import check_weight

from .correct_purchase import correction_words, kept_answers
from .narrowing import narrowed_page
from .rack import pictures
from .ways import crumbs, rack_ways

PURCHASES_PER_PAGE = 25


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def receive(request: Visit) -> HttpResponse:
    """Lines are added by a button that sends the form back with one more, nothing lost.

    With `?order=` the sheets of that order which are still to come are filled in.
    """
    asked = request.GET.get("order", "")
    order = order_for(request.user, int(asked)) if asked.isdecimal() and len(asked) < 10 else None
    if request.method == "POST" and "more" not in request.POST:
        # Every line is new; a form shown with one more line would say otherwise.
        data = request.POST.copy()
        data["line-INITIAL_FORMS"] = "0"
        lines = line_forms(request.user, data)
        head = PurchaseForm(request.POST, acting=request.user, lines=lines)
        if all([head.is_valid(), lines.is_valid()]):  # both, to say all that is wrong at once
            answer = _received(request, head, lines, order)
            if answer is not None:
                return answer
    else:
        # Asked for one more line: what was typed is shown again, not yet found fault with.
        typed: list[dict[str, object]] = lines_typed(request.POST)
        if order is not None and request.method == "GET":
            typed = still_to_come(order)
        head = PurchaseForm(
            initial=request.POST.dict()
            if request.method == "POST"
            else {"seller": order.seller, "reference": order.reference}
            if order
            else None,
            acting=request.user,
        )
        if request.method == "POST":
            head.initial["keep_prices"] = "keep_prices" in request.POST
        lines = line_forms(request.user, None, typed)
        if request.method == "POST":
            begin_in_last(lines)
    return render(
        request,
        "inventory/buying/receive.html",
        {
            "head": head,
            "lines": lines,
            "order": order,
            "no_metals": not metals_for(request.user).filter(retired_at=None).exists(),
            "room_for_more": len(lines.forms) < MOST_LINES,
            "crumbs": crumbs("Receive metal"),
        },
    )


def line_forms(
    acting: User, data: QueryDict | None, typed: list[dict[str, object]] | None = None
) -> LineFormSetBase:
    forms = LineFormSet(data, initial=typed, prefix="line", form_kwargs={"acting": acting})
    assert isinstance(forms, LineFormSetBase)
    return forms


def lines_typed(data: QueryDict) -> list[dict[str, object]]:
    """What stands in each line of a form that was sent, as text."""
    try:
        count = int(data.get("line-TOTAL_FORMS", "0"))
    except ValueError:
        return []
    return [
        {name: data.get(f"line-{number}-{name}", "") for name in LineForm.base_fields}
        | {"edges_clean": data.getlist(f"line-{number}-edges_clean")}
        for number in range(min(max(count, 0), MOST_LINES - 1))
    ]


def still_to_come(order: MetalOrder) -> list[dict[str, object]]:
    """The lines of a receipt form for what an order still lacks."""
    return [
        {
            "metal": one.line.metal_id,
            "count": one.to_come,
            "width": one.line.width_mm,
            "height": one.line.height_mm,
            "order_line": one.line.pk,
        }
        for one in ordering.standing(order)
        if one.to_come
    ]


def _received(
    request: Visit, head: PurchaseForm, lines: LineFormSetBase, order: MetalOrder | None
) -> HttpResponse | None:
    data = head.cleaned_data
    wanted = [form.line() for form in lines.filled()]
    with said_on(head):
        with transaction.atomic():
            if not SentForm.is_first(data["once"], request.user):
                messages.info(request, "That purchase was entered already, once.")
                return redirect("purchases")
            purchase = receiving.receive_purchase(
                request.user.school,
                wanted,
                acting=request.user,
                bought_on=data["bought_on"],
                seller=data["seller"],
                reference=data["reference"],
                freight=data["freight"],
                tax=data["tax"],
                order=order,
            )
            if data["keep_prices"]:
                kept = purchase.lines.order_by("pk")
                for line, row in zip(wanted, kept, strict=True):
                    record_price(
                        line.metal,
                        price_of_one(line),
                        width_mm=line.width_mm,
                        height_mm=line.height_mm,
                        dated=data["bought_on"],
                        acting=request.user,
                        remark=bought_from(data["seller"]),
                        line=row,
                    )
            for form in (head, *lines.filled()):
                form.keep_answer(purchase, acting=request.user)
        messages.success(request, "The sheets are on the rack. Write the labels on them.")
        for form in lines.filled():
            _tell_weight(request, form)
        return redirect("purchase", purchase.pk)
    return None


def _tell_weight(request: Visit, form: LineForm) -> None:
    """Warn where the scale and the size disagree."""
    check = form.weight_check()
    if check is None or check.agrees:
        return
    units = request.user.school.units
    side = "more" if check.off > 0 else "less"
    messages.warning(
        request,
        f"{capfirst(str(form.cleaned_data['metal']))}: the scale says "
        f"{format_mass(check.weighed_g, units)}, by their size the sheets should weigh "
        f"{format_mass(check.expected_g, units)}, so they weigh "
        f"{format_share(abs(check.off))} {side}. "
        f"About {check.thickness_in(units)} thick would explain it: measure with a caliper, "
        "and check that it is this metal.",
    )


@requires(Action.SEE_RACK)
@require_GET
def purchases(request: Visit) -> HttpResponse:
    rows = (
        purchases_for(request.user)
        .select_related("recorded_by")
        .annotate(sheets=Sum("lines__count"), paid=Sum("lines__total"))
    )
    return render(
        request,
        "inventory/buying/purchases.html",
        narrowed_page(request, rows, PurchaseFilter, per_page=PURCHASES_PER_PAGE)
        | {
            "sections": rack_ways("purchases"),
            "open_orders": orders_for(request.user).filter(closed_at=None).count(),
        },
    )


@requires(Action.SEE_RACK)
@require_GET
def purchase(request: Visit, pk: int) -> HttpResponse:
    one = purchase_for(request.user, pk)
    lines = list(one.lines.select_related("metal").prefetch_related("stock_pieces__metal"))
    corrections = list(corrections_of(one))
    return render(
        request,
        "inventory/buying/purchase.html",
        {
            "purchase": one,
            "title": f"P{str(one)[1:]}",
            "lines": lines,
            "paid": sum(line.total for line in lines),
            "extras": one.freight + one.tax,
            "checks": [_weight_of(line) for line in lines],
            "kept": sum(row.kept for row in corrections),
            "corrections": [correction_words(row, request.user.school) for row in corrections],
            "answers": kept_answers(one),
            "shown": pictures(list(sheets_of(one))),
            "crumbs": crumbs(("Purchases", reverse("purchases")), str(one)),
        },
    )


def _weight_of(line: PurchaseLine) -> dict[str, object]:
    """The line with its weight against its size, where it was weighed."""
    if line.weight_g is None or not line.count:
        return {"line": line, "check": None}
    first = line.stock_pieces.all()[0]
    check = check_weight(
        line.weight_g,
        area_mm2=line.width_mm * line.height_mm * line.count,
        thickness_mm=first.measured_mm or line.metal.thickness_mm,
        alloy_code=line.metal.alloy_code,
    )
    return {"line": line, "check": check}
