"""The order list: what to buy for the open briefs, as page, on paper and as CSV."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from classroom.figures.rounding import percent_of, rounded
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from inventory.spreadsheets import csv_response
from inventory.views.ways import crumbs
from studio.telling.rack.order_list import USUAL_YIELD, Need, order_list, total_cost

HEAD = (
    "metal",
    "thickness_mm",
    "projects to place",
    "average pattern mm2",
    "yield (%)",
    "closed plans behind it",
    "needed mm2",
    "free on the rack mm2",
    "to buy mm2",
    "sheet width mm",
    "sheet height mm",
    "sheets",
    "price of one",
    "priced on",
    "cost",
    "currency",
)


@requires(Action.SEE_RACK)
@require_GET
def rack_order(request: Visit) -> HttpResponse:
    return render(request, "studio/rack/order_list.html", _shown(request))


@requires(Action.SEE_RACK)
@require_GET
def rack_order_print(request: Visit) -> HttpResponse:
    template = "studio/rack/order_list_print.html"
    return printed(request, template, lambda: _shown(request), name="order list")


@requires(Action.SEE_RACK)
@require_GET
def rack_order_csv(request: Visit) -> HttpResponse:
    currency = request.user.school.currency
    rows = (_row(need, currency) for need in order_list(request.user.school))
    return csv_response(f"order list {timezone.localdate():%Y-%m-%d}", HEAD, rows)


def _row(need: Need, currency: str) -> tuple[object, ...]:
    price = need.price
    return (
        str(need.metal),
        need.metal.thickness_mm,
        rounded(need.projects, 1),
        rounded(need.average_mm2, 0),
        percent_of(need.share),
        need.plans,
        rounded(need.needed_mm2, 0),
        rounded(need.on_rack_mm2, 0),
        rounded(need.to_buy_mm2, 0),
        price.width_mm if price else "",
        price.height_mm if price else "",
        need.sheets if need.sheets is not None else "",
        price.amount if price else "",
        price.dated if price else "",
        need.cost if need.cost is not None else "",
        currency,
    )


def _shown(request: Visit) -> dict[str, Any]:
    needs = order_list(request.user.school)
    wanted = [need for need in needs if need.sheets]
    return {
        "needs": needs,
        "total": total_cost(needs),
        "usual": USUAL_YIELD,
        "unpriced": any(need.price is None and need.to_buy_mm2 for need in needs),
        "order_url": _order_url(wanted),
        "back_url": reverse("rack_order"),
        "crumbs": crumbs(("Purchases", reverse("purchases")), "Order list"),
    }


def _order_url(wanted: list[Need]) -> str:
    """The form of a new order with these lines filled in; "" where nothing is to order."""
    if not wanted:
        return ""
    lines = [
        ("line", f"{need.metal.pk}:{need.sheets}:{need.price.width_mm}:{need.price.height_mm}")
        for need in wanted
        if need.price is not None
    ]
    return f"{reverse('order_new')}?{urlencode(lines)}"
