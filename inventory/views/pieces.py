"""One stock piece: its picture, its facts, its history, and what can be done with it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.papers.addresses import full_address
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory.forms.edges import EdgesForm
from inventory.forms.pieces import (
    CorrectForm,
    MoveForm,
    OffcutForm,
    ScrapPieceForm,
    StrikeOffForm,
)
from inventory.models import SentForm, StockPiece
from inventory.queries import movements_of, stock_piece_for
from inventory.rack import correcting, stock
from inventory.rack.codes import qr_svg
from inventory.rack.edges import edges_from, named
from inventory.rack.picturing import piece_svg
from inventory.spending.causes import cause_link

from .rack import STATE_MARKS, age_of, pictures
from .ways import crumbs

OFF_BY_SHARE = Decimal("0.05")
"""A caliper reading further from the metal's thickness than this deserves a second look."""


@requires(Action.SEE_RACK)
@require_GET
def stock_piece(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    return _shown(request, piece)


def _shown(request: Visit, piece: StockPiece, **forms: Any) -> HttpResponse:
    """The page of a stock piece; `forms` are those that came back with something to mend."""
    fresh = {
        "move_form": MoveForm(initial={"place": piece.place}),
        "scrap_form": ScrapPieceForm(piece=piece, acting=request.user),
        "strike_off_form": StrikeOffForm(),
    }
    return render(request, "inventory/rack/stock_piece.html", facts(request, piece) | fresh | forms)


def facts(request: Visit, piece: StockPiece) -> dict[str, Any]:
    """All that the page of a stock piece shows besides its forms."""
    gone = piece.state == StockPiece.State.GONE
    address = full_address(request, reverse("stock_piece", args=[piece.pk]))
    return {
        "piece": piece,
        "mark": STATE_MARKS[piece.state],
        "free": piece.state == StockPiece.State.RACK,
        "gone": gone,
        "age": age_of(piece),
        "picture": piece_svg(
            piece.polygon,
            title=f"Outline of {piece.code}, {piece.metal}",
            kind="gone" if gone else piece.kind,
            units=request.user.school.units,
        ),
        "clean_edges": named(piece.polygon, edges_from(piece.clean_edges, piece.rough_edges)),
        "windows": len(getattr(piece.polygon, "interiors", ())),
        "off_by": off_by(piece),
        "qr": qr_svg(address, f"QR code with the address of {piece.code}"),
        "address": address,
        "entries": [
            {
                "when": move.at,
                "who": move.actor.display_name,
                "what": f"{move.get_kind_display()}",
                "why": move.reason,
                "cause": cause_link(move.cause),
            }
            for move in movements_of(piece)
        ],
        "offcuts": pictures(list(piece.offcuts.select_related("metal").order_by("code"))),
        "crumbs": crumbs(piece.code),
    }


def off_by(piece: StockPiece) -> Decimal | None:
    """How far the caliper reading is from the metal's thickness, where that is a lot."""
    if piece.measured_mm is None:
        return None
    off = abs(piece.measured_mm - piece.metal.thickness_mm)
    return off if off > piece.metal.thickness_mm * OFF_BY_SHARE else None


@requires(Action.MANAGE_RACK)
@require_POST
def stock_move(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    form = MoveForm(request.POST)
    if not form.is_valid():
        return _shown(request, piece, move_form=form)
    if correcting.move_to(piece, form.cleaned_data["place"], acting=request.user):
        messages.success(request, f"{piece.code} lies in {piece.place or 'no stated place'} now.")
    return redirect("stock_piece", pk)


@requires(Action.MANAGE_RACK)
@require_POST
def stock_scrap(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    form = ScrapPieceForm(request.POST, piece=piece, acting=request.user)
    if form.is_valid():
        with said_on(form):
            with transaction.atomic():
                stock.scrap(
                    piece,
                    acting=request.user,
                    reason=form.cleaned_data["reason"] + form.answered,
                    mass_g=form.cleaned_data["weight"],
                )
                form.keep_answer(piece, acting=request.user)
            return done(request, f"{piece.code} is in the scrap box.", "stock_piece", pk)
    return _shown(request, stock_piece_for(request.user, pk), scrap_form=form)


@requires(Action.MANAGE_RACK)
@require_POST
def stock_strike_off(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    form = StrikeOffForm(request.POST)
    if form.is_valid():
        with said_on(form):
            correcting.strike_off(piece, acting=request.user, reason=form.cleaned_data["why_off"])
            return done(
                request,
                f"{piece.code} is off the record of what the school has.",
                "stock_piece",
                pk,
            )
    return _shown(request, stock_piece_for(request.user, pk), strike_off_form=form)


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def stock_correct(request: Visit, pk: int) -> HttpResponse:
    piece = stock_piece_for(request.user, pk)
    if piece.state == StockPiece.State.GONE:
        raise Refused(f"{piece.code} is used up: its record stays as it is.")
    form = CorrectForm(request.POST or None, piece=piece, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                changed = correcting.correct(
                    piece,
                    acting=request.user,
                    reason=data["reason"] + form.answered,
                    measured_mm=data["measured"],
                    cost=data.get("cost"),
                    outline=data.get("outline"),
                )
                form.keep_answer(piece, acting=request.user)
            said = "is corrected" if changed else "stood so already: nothing was changed"
            return done(request, f"The record of {piece.code} {said}.", "stock_piece", pk)
    address = reverse("stock_piece", args=[pk])
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": f"Correct the record of {piece.code}",
            "lead": "What it said before stays in the piece's history.",
            "button": "Save the correction",
            "back_url": address,
            "crumbs": crumbs((piece.code, address), "Correct"),
        },
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def stock_edges(request: Visit, pk: int) -> HttpResponse:
    """Which of its edges are clean, ticked on its picture."""
    piece = stock_piece_for(request.user, pk)
    if piece.state == StockPiece.State.GONE:
        raise Refused(f"{piece.code} is used up: its record stays as it is.")
    correcting.counted_on_by_none(piece)
    each = "each" in request.GET
    form = EdgesForm(request.POST or None, piece=piece, acting=request.user, each=each)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            changed = correcting.correct(
                piece, acting=request.user, reason=form.cleaned_data["reason"], edges=form.edges
            )
            said = "are kept" if changed else "stood so already: nothing was changed"
            return done(request, f"The edges of {piece.code} {said}.", "stock_piece", pk)
    address = reverse("stock_piece", args=[pk])
    return render(
        request,
        "inventory/rack/edges.html",
        {
            "form": form,
            "piece": piece,
            "back_url": address,
            "crumbs": crumbs((piece.code, address), "Edges"),
        },
        status=422 if form.is_bound else 200,
    )


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def offcut_new(request: Visit) -> HttpResponse:
    form = OffcutForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                if not SentForm.is_first(data["once"], request.user):
                    messages.info(request, "That offcut was entered already, once.")
                    return redirect("rack")
                piece = stock.receive_offcut(
                    request.user.school,
                    data["metal"],
                    data["outline"],
                    acting=request.user,
                    cost=data["cost"],
                    reason=data["reason"],
                    clean_edges=data["clean_edges"],
                    measured_mm=data["measured"],
                    place=data["place"],
                )
                form.keep_answer(piece, acting=request.user)
            return done(
                request,
                f"{piece.code} is on the rack. Write that on the metal.",
                "stock_piece",
                piece.pk,
            )
    return render(
        request,
        "inventory/rack/offcut_new.html",
        {"form": form, "crumbs": crumbs("Offcut")},
    )
