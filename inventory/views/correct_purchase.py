"""Correcting a purchase, and what was corrected of it in words."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.views.decorators.http import require_http_methods

from classroom.acting import said_on
from classroom.figures.units import format_length, format_mass
from classroom.models import School
from classroom.permissions import Action, Visit, requires
from classroom.queries import history_of
from inventory.buying.correcting import Corrected, correct_purchase
from inventory.forms.asking import KEPT_AS_TYPED
from inventory.forms.correct_purchase import CorrectHeadForm, line_forms
from inventory.models import Purchase, PurchaseCorrection, SentForm, StockPiece
from inventory.queries import corrections_of, is_in_use, purchase_for

from .ways import crumbs

WORDS = {
    "bought_on": "bought on",
    "seller": "bought from",
    "reference": "receipt",
    "freight": "freight",
    "tax": "tax",
    "count": "sheets",
    "width_mm": "width",
    "height_mm": "height",
    "price": "price of the line",
    "extras": "freight and tax",
    "weight_g": "weight",
}
"""The fields of a correction in the order in which they are told."""


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def purchase_correct(request: Visit, pk: int) -> HttpResponse:
    one = purchase_for(request.user, pk)
    sent = request.POST or None
    rows = list(one.lines.select_related("metal", "purchase").order_by("pk"))
    lines = line_forms(rows, sent, acting=request.user)
    head = CorrectHeadForm(sent, purchase=one, lines=lines, acting=request.user)
    # All of them are looked at, so that everything is asked at once.
    sound = [form.is_valid() for form in (*lines, head)]
    if request.method == "POST" and all(sound):
        data = head.cleaned_data
        with said_on(head):
            with transaction.atomic():
                if not SentForm.is_first(data["once"], request.user):
                    messages.info(request, "That correction was written down already, once.")
                    return redirect("purchase", pk)
                done = correct_purchase(
                    one,
                    head.right(),
                    {form.line.pk: form.right() for form in lines},
                    acting=request.user,
                    reason=data["reason"],
                    seen=data["seen"],
                )
                for form in (head, *lines):
                    form.keep_answer(one, acting=request.user)
            _tell(request, done)
            return redirect("purchase", pk)
    address = reverse("purchase", args=[pk])
    return render(
        request,
        "inventory/buying/purchase_correct.html",
        {
            "purchase": one,
            "head": head,
            "lines": lines,
            "in_use": is_in_use(one),
            "corrections": [
                correction_words(row, request.user.school) for row in corrections_of(one)
            ],
            "back_url": address,
            "crumbs": crumbs(("Purchases", reverse("purchases")), (str(one), address), "Correct"),
        },
    )


def _tell(request: Visit, done: Corrected) -> None:
    if not done.changed:
        messages.info(request, "All stood so already: nothing was changed.")
        return
    messages.success(request, "The purchase is corrected. What it said before is kept below.")
    if done.added:
        messages.success(request, f"New on the rack: {_codes(done.added)}. Print the labels.")
    if done.struck:
        messages.success(request, f"Off the rack: {_codes(done.struck)}.")
    if done.kept_cost:
        messages.warning(
            request,
            f"{_codes(done.kept_cost)} keep the cost at which they were priced, because they are "
            "in use or used up. The difference has a row of its own below.",
        )
    if done.kept_size:
        messages.warning(
            request,
            f"{_codes(done.kept_size)} keep their size: they do not lie untouched on the rack.",
        )


def _codes(pieces: list[StockPiece]) -> str:
    return ", ".join(sorted(piece.code for piece in pieces))


def correction_words(row: PurchaseCorrection, school: School) -> dict[str, Any]:
    """One correction as the history shows it."""
    said = [
        f"{words} {_value(name, row.after.get(name), school)}, "
        f"before {_value(name, row.before[name], school)}"
        for name, words in WORDS.items()
        if name in row.before
    ]
    if row.kept:
        less = "less" if row.kept < 0 else "more"
        said.append(
            f"sheets in use would cost {abs(row.kept):,.2f} {school.currency} {less}, and keep "
            "their cost"
        )
    of = f"{row.line.metal}: " if row.line is not None else ""
    return {
        "when": row.at,
        "who": row.actor.display_name,
        "what": f"corrected {of}{'; '.join(said)}",
        "why": row.reason,
    }


def _value(name: str, text: str | None, school: School) -> str:
    if text is None or text == "":
        return "not stated"
    if name == "bought_on":
        return date_format(dt.date.fromisoformat(text), "j M Y")
    if name in ("width_mm", "height_mm"):
        return format_length(Decimal(text), school.units)
    if name == "weight_g":
        return format_mass(Decimal(text), school.units)
    if name in ("freight", "tax", "price", "extras"):
        return f"{Decimal(text):,.2f} {school.currency}"
    return text


def kept_answers(purchase: Purchase) -> list[dict[str, Any]]:
    """What was asked about the purchase's figures, and kept as typed."""
    rows = history_of(purchase).filter(verb=KEPT_AS_TYPED)
    return [
        {
            "when": row.at,
            "who": row.actor.display_name if row.actor else "",
            "what": row.text,
            "why": row.detail.get("why", ""),
        }
        for row in rows
    ]
