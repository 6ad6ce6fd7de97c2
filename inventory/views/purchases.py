"""Receiving metal: a purchase of several lines, the list of purchases, one purchase."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.db.models import Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from classroom.models import User
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory import stock
from inventory.forms.pieces import refused
from inventory.forms.receive import LineForm, LineFormSet, LineFormSetBase, PurchaseForm
from inventory.models import SentForm
from inventory.prices import record_price
from inventory.queries import metals_for, purchase_for, purchases_for

from .rack import pictures
from .ways import crumbs, rack_ways

PURCHASES_PER_PAGE = 25


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def receive(request: Visit) -> HttpResponse:
    """Lines are added by a button that sends the form back with one more, nothing lost."""
    if request.method == "POST" and "more" not in request.POST:
        head = PurchaseForm(request.POST)
        # Every line is new; a form shown with one more line would say otherwise.
        data = request.POST.copy()
        data["line-INITIAL_FORMS"] = "0"
        lines = line_forms(request.user, data)
        if head.is_valid() and lines.is_valid():
            answer = _received(request, head, lines)
            if answer is not None:
                return answer
    else:
        # Asked for one more line: what was typed is shown again, not yet found fault with.
        typed = lines_typed(request.POST)
        head = PurchaseForm(initial=request.POST.dict() if typed else None)
        if typed:
            head.initial["keep_prices"] = "keep_prices" in request.POST
        lines = line_forms(request.user, None, typed)
    return render(
        request,
        "inventory/receive.html",
        {
            "head": head,
            "lines": lines,
            "no_metals": not metals_for(request.user).filter(retired_at=None).exists(),
            "room_for_more": len(lines.forms) < stock.MOST_LINES,
            "crumbs": crumbs("Receive metal"),
        },
    )


def line_forms(
    acting: User, data: QueryDict | None, typed: list[dict[str, str]] | None = None
) -> LineFormSetBase:
    forms = LineFormSet(data, initial=typed, prefix="line", form_kwargs={"acting": acting})
    assert isinstance(forms, LineFormSetBase)
    return forms


def lines_typed(data: QueryDict) -> list[dict[str, str]]:
    """What stands in each line of a form that was sent, as text."""
    try:
        count = int(data.get("line-TOTAL_FORMS", "0"))
    except ValueError:
        return []
    return [
        {name: data.get(f"line-{number}-{name}", "") for name in LineForm.base_fields}
        for number in range(min(max(count, 0), stock.MOST_LINES - 1))
    ]


def _received(request: Visit, head: PurchaseForm, lines: LineFormSetBase) -> HttpResponse | None:
    data = head.cleaned_data
    wanted = [form.line() for form in lines.filled()]
    try:
        with transaction.atomic():
            if not SentForm.is_first(data["once"], request.user):
                messages.info(request, "That purchase was entered already, once.")
                return redirect("purchases")
            purchase = stock.receive_purchase(
                request.user.school,
                wanted,
                acting=request.user,
                bought_on=data["bought_on"],
                seller=data["seller"],
                reference=data["reference"],
            )
            if data["keep_prices"]:
                for line in wanted:
                    record_price(
                        line.metal,
                        stock.price_of_one(line),
                        width_mm=line.width_mm,
                        height_mm=line.height_mm,
                        dated=data["bought_on"],
                        acting=request.user,
                        remark=f"bought {data['seller']}".strip()[:120],
                    )
    except Refused as refusal:
        refused(head, refusal)
        return None
    messages.success(request, "The sheets are on the rack. Write the labels on them.")
    return redirect("purchase", purchase.pk)


@requires(Action.SEE_RACK)
@require_GET
def purchases(request: Visit) -> HttpResponse:
    rows = (
        purchases_for(request.user)
        .select_related("recorded_by")
        .annotate(sheets=Sum("lines__count"), paid=Sum("lines__total"))
        .order_by("-bought_on", "-pk")
    )
    page = Paginator(rows, PURCHASES_PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "inventory/purchases.html",
        {"page": page, "sections": rack_ways("purchases")},
    )


@requires(Action.SEE_RACK)
@require_GET
def purchase(request: Visit, pk: int) -> HttpResponse:
    one = purchase_for(request.user, pk)
    lines = list(one.lines.select_related("metal").prefetch_related("stock_pieces__metal"))
    pieces = [piece for line in lines for piece in line.stock_pieces.all()]
    return render(
        request,
        "inventory/purchase.html",
        {
            "purchase": one,
            "title": f"P{str(one)[1:]}",
            "lines": lines,
            "paid": sum(line.total for line in lines),
            "shown": pictures(pieces),
            "crumbs": crumbs(("Purchases", reverse("purchases")), str(one)),
        },
    )
