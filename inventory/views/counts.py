"""Stock counts: the list of them, the one that is open with its ticks, the sheet to print."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from inventory.forms.counts import AddPieceForm, BookForm, CallOffForm, OpenCountForm
from inventory.models import CountedPiece, StockCount, StockMovement
from inventory.queries import count_for, counts_for
from inventory.rack import counting

from .ways import crumbs, rack_ways

PER_PAGE = 50
MARKS = {"open": "current", "booked": "done", "off": "closed"}
Seen = CountedPiece.Seen


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def stock_counts(request: Visit) -> HttpResponse:
    # A form without a metal is an empty one, and valid: what counts is that it was sent.
    sent = request.POST if request.method == "POST" else None
    form = OpenCountForm(sent, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            made = counting.open_count(
                request.user.school, form.cleaned_data["metal"], acting=request.user
            )
            return redirect("stock_count", made.pk)
    rows = (
        counts_for(request.user)
        .annotate(
            listed=Count("pieces"),
            differences=Count("pieces", filter=Q(pieces__booked__gt="")),
        )
        .order_by("-opened_at", "-pk")
    )
    return render(
        request,
        "inventory/rack/counts.html",
        {
            "form": form,
            "page": Paginator(rows, 25).get_page(request.GET.get("page")),
            "open": counts_for(request.user).filter(state=StockCount.State.OPEN).first(),
            "marks": MARKS,
            "sections": rack_ways("stock_counts"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def stock_count(request: Visit, pk: int) -> HttpResponse:
    """The list with its ticks; sending it writes the ticks of the page that is shown."""
    count = count_for(request.user, pk)
    page = Paginator(_rows(count), PER_PAGE).get_page(request.GET.get("page"))
    if request.method == "POST":
        ticks = {
            row.pk: counting.Tick(
                request.POST.get(f"seen-{row.pk}", ""), request.POST.get(f"place-{row.pk}", "")
            )
            for row in page.object_list
            if f"seen-{row.pk}" in request.POST
        }
        counting.tick(count, ticks, acting=request.user)
        left = count.pieces.filter(seen=Seen.OPEN).count()
        messages.success(
            request, f"Written down. {left} still to look at." if left else "All are looked at."
        )
        following = page.next_page_number() if page.has_next() else page.number
        return redirect(f"{reverse('stock_count', args=[pk])}?page={following}")
    return _shown(request, count)


@requires(Action.MANAGE_RACK)
@require_POST
def count_add(request: Visit, pk: int) -> HttpResponse:
    count = count_for(request.user, pk)
    form = AddPieceForm(request.POST)
    if form.is_valid():
        with said_on(form):
            row = counting.add_unexpected(
                count,
                form.cleaned_data["code"],
                acting=request.user,
                place=form.cleaned_data["lies_in"],
            )
            return done(
                request, f"{row.stock_piece.code} is on the list, as found here.", "stock_count", pk
            )
    return _shown(request, count, add_form=form)


@requires(Action.MANAGE_RACK)
@require_POST
def count_book(request: Visit, pk: int) -> HttpResponse:
    count = count_for(request.user, pk)
    form = BookForm(request.POST)
    if form.is_valid():
        with said_on(form):
            booked = counting.book(count, acting=request.user, reason=form.cleaned_data["reason"])
            number = len(booked)
            said = (
                f"{number} difference{'' if number == 1 else 's'} booked"
                if number
                else ("rack and records agree")
            )
            return done(request, f"The count is closed: {said}.", "stock_count", pk)
    return _shown(request, count_for(request.user, pk), book_form=form)


@requires(Action.MANAGE_RACK)
@require_POST
def count_call_off(request: Visit, pk: int) -> HttpResponse:
    count = count_for(request.user, pk)
    form = CallOffForm(request.POST)
    if form.is_valid():
        with said_on(form):
            counting.call_off(count, acting=request.user, reason=form.cleaned_data["why_off"])
            return done(request, "The count is called off; nothing was booked.", "stock_count", pk)
    return _shown(request, count_for(request.user, pk), off_form=form)


@requires(Action.MANAGE_RACK)
@require_GET
def count_sheet(request: Visit, pk: int) -> HttpResponse:
    """The list on paper, to tick with a pencil."""
    count = count_for(request.user, pk)
    return printed(
        request,
        "inventory/rack/count_print.html",
        lambda: {
            "count": count,
            "rows": _rows(count),
            "back_url": reverse("stock_count", args=[pk]),
        },
        name=str(count),
    )


def _rows(count: StockCount) -> Any:
    return count.pieces.select_related("stock_piece__metal", "ticked_by").order_by(
        "stock_piece__place", "stock_piece__code", "pk"
    )


def _shown(request: Visit, count: StockCount, **forms: Any) -> HttpResponse:
    rows = _rows(count)
    totals = count.pieces.aggregate(
        listed=Count("pk"),
        open=Count("pk", filter=Q(seen=Seen.OPEN)),
        here=Count("pk", filter=Q(seen=Seen.HERE)),
        missing=Count("pk", filter=Q(seen=Seen.MISSING)),
        elsewhere=Count("pk", filter=Q(seen=Seen.ELSEWHERE)),
    )
    is_open = count.state == StockCount.State.OPEN
    fresh = {"add_form": AddPieceForm(), "book_form": BookForm(), "off_form": CallOffForm()}
    title = f"S{str(count)[1:]}"
    return render(
        request,
        "inventory/rack/count.html",
        {
            "count": count,
            "title": title,
            "is_open": is_open,
            "mark": MARKS[count.state],
            "totals": totals,
            "looked_at": totals["listed"] - totals["open"],
            "page": Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
            "choices": [one for one in Seen.choices if one[0]],
            "kinds": dict(StockMovement.Kind.choices),
            "crumbs": crumbs(("Stock counts", reverse("stock_counts")), str(count)),
        }
        | fresh
        | forms,
    )
