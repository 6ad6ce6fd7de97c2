"""Orders of metal: the list, a new one, and one with what has come of it."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import Q, Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from inventory.buying import ordering
from inventory.buying.sheet_line import MOST_LINES
from inventory.forms.fields import begin_in_last
from inventory.forms.lists import OrderFilter
from inventory.forms.orders import CloseOrderForm, OrderForm, OrderLines, OrderLinesBase
from inventory.models import MetalOrder, SentForm
from inventory.queries import order_for, orders_for

from .narrowing import narrowed_page
from .ways import crumbs, rack_ways


@requires(Action.SEE_RACK)
@require_GET
def orders(request: Visit) -> HttpResponse:
    rows = orders_for(request.user).annotate(
        sheets=Sum("lines__count"), closed=Q(closed_at__isnull=False)
    )
    return render(
        request,
        "inventory/buying/orders.html",
        narrowed_page(request, rows, OrderFilter)
        | {"sections": rack_ways("purchases"), "crumbs": _crumbs("Orders")},
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def order_new(request: Visit) -> HttpResponse:
    """Lines may come filled in, as `line=metal:count:width:height` in millimetres."""
    form_kwargs = {"acting": request.user}
    if request.method == "POST" and "more" not in request.POST:
        data = request.POST.copy()
        data["line-INITIAL_FORMS"] = "0"  # every line is new
        head, lines = OrderForm(request.POST), _lines(data, None, form_kwargs)
        if all([head.is_valid(), lines.is_valid()]):  # both, to say all that is wrong at once
            answer = _written(request, head, lines)
            if answer is not None:
                return answer
    elif request.method == "POST":
        head = OrderForm(initial=request.POST.dict())
        lines = _lines(None, _typed(request.POST), form_kwargs)
        begin_in_last(lines)
    else:
        head, lines = OrderForm(), _lines(None, _asked(request.GET), form_kwargs)
    return render(
        request,
        "inventory/buying/order_new.html",
        {
            "head": head,
            "lines": lines,
            "room_for_more": len(lines.forms) < MOST_LINES,
            "crumbs": _crumbs(("Orders", reverse("orders")), "New order"),
        },
    )


@requires(Action.SEE_RACK)
@require_GET
def order(request: Visit, pk: int) -> HttpResponse:
    return _shown(request, pk, CloseOrderForm())


@requires(Action.SEE_RACK)
@require_GET
def order_print(request: Visit, pk: int) -> HttpResponse:
    """The order on paper: to be sent, or to lie with the parcel when it comes."""
    one = order_for(request.user, pk)
    return printed(request, "inventory/buying/order_print.html", lambda: _paper(one), name=str(one))


def _paper(one: MetalOrder) -> dict[str, Any]:
    rows = [
        {
            "line": row.line,
            "came": row.came,
            "to_come": row.to_come,
            "mass_g": row.line.metal.mass_g(
                row.line.width_mm * row.line.height_mm * row.line.count
            ),
        }
        for row in ordering.standing(one)
    ]
    return {
        "order": one,
        "title": f"O{str(one)[1:]}",
        "rows": rows,
        "sheets": sum(line.count for line in one.lines.all()),
        "some_came": any(row["came"] for row in rows),
        "back_url": reverse("order", args=[one.pk]),
    }


@requires(Action.MANAGE_RACK)
@require_POST
def order_close(request: Visit, pk: int) -> HttpResponse:
    one = order_for(request.user, pk)
    form = CloseOrderForm(request.POST)
    if form.is_valid():
        with said_on(form):
            ordering.close_order(one, acting=request.user, reason=form.cleaned_data["reason"])
            return done(request, "The order is closed.", "order", pk)
    return _shown(request, pk, form)


def _shown(request: Visit, pk: int, form: CloseOrderForm) -> HttpResponse:
    one = order_for(request.user, pk)
    rows = ordering.standing(one)
    return render(
        request,
        "inventory/buying/order.html",
        {
            "order": one,
            "title": f"O{str(one)[1:]}",
            "rows": rows,
            "to_come": sum(row.to_come for row in rows),
            "purchases": one.purchases.annotate(sheets=Sum("lines__count")).order_by(
                "bought_on", "pk"
            ),
            "form": form,
            "crumbs": _crumbs(("Orders", reverse("orders")), str(one)),
        },
    )


def _written(request: Visit, head: OrderForm, lines: OrderLinesBase) -> HttpResponse | None:
    data = head.cleaned_data
    with said_on(head):
        with transaction.atomic():
            if not SentForm.is_first(data["once"], request.user):
                messages.info(request, "That order was written down already, once.")
                return redirect("orders")
            made = ordering.write_order(
                request.user.school,
                [form.wanted() for form in lines.filled()],
                acting=request.user,
                ordered_on=data["ordered_on"],
                seller=data["seller"],
                reference=data["reference"],
            )
        said = "The order is written down. Receive its sheets when they come."
        return done(request, said, "order", made.pk)
    return None


def _lines(
    data: QueryDict | None, initial: list[dict[str, Any]] | None, form_kwargs: dict[str, Any]
) -> OrderLinesBase:
    made = OrderLines(data, initial=initial, prefix="line", form_kwargs=form_kwargs)
    assert isinstance(made, OrderLinesBase)
    return made


def _typed(data: QueryDict) -> list[dict[str, Any]]:
    """What stands in each line of a form that was sent, as text."""
    try:
        count = int(data.get("line-TOTAL_FORMS", "0"))
    except ValueError:
        return []
    names = ("metal", "count", "width", "height")
    return [
        {name: data.get(f"line-{number}-{name}", "") for name in names}
        for number in range(min(max(count, 0), MOST_LINES - 1))
    ]


def _asked(data: QueryDict) -> list[dict[str, Any]]:
    """Lines in the address; what is not four numbers is left out."""
    found = []
    for text in data.getlist("line")[: MOST_LINES - 1]:
        try:
            metal, count, width, height = (Decimal(part) for part in text.split(":"))
        except (ValueError, InvalidOperation):
            continue
        if not all(
            value.is_finite() and 0 < value < 10**7 for value in (metal, count, width, height)
        ):
            continue
        found.append({"metal": int(metal), "count": int(count), "width": width, "height": height})
    return found


def _crumbs(*steps: tuple[str, str] | str) -> list[dict[str, Any]]:
    return crumbs(("Purchases", reverse("purchases")), *steps)
