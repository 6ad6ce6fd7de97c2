"""An offcut of any outline, uploaded as SVG (the pattern reader reads it, so it lives here)."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.models import School
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.units import format_length
from inventory.models import SentForm, StockPiece
from inventory.stock import receive_offcut
from studio.core.drawing import Finding
from studio.core.reading import PatternError
from studio.forms.offcut import DrawnOffcutForm
from studio.steps.offcut_outline import DrawnOutline, OutlineNotClear, read_outline

from .findings import numbered

_SIZE_FROM = {
    "file": "as the file says",
    "option": "from the width you typed",
    "resolution": "the file names no unit, so 96 px were taken for an inch",
}


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def offcut_from_svg(request: Visit) -> HttpResponse:
    form = DrawnOffcutForm(request.POST or None, request.FILES or None, acting=request.user)
    stops: tuple[Finding, ...] = ()
    if request.method == "POST" and form.is_valid():
        try:
            return _received(request, form)
        except OutlineNotClear as unclear:
            stops = unclear.findings
            form.add_error("file", str(unclear))
        except (PatternError, Refused) as refusal:
            form.add_error("file", str(refusal))
    return render(
        request,
        "inventory/offcut_from_svg.html",
        {
            "form": form,
            "findings": _listed(stops, request.user.school),
            "crumbs": [
                {"label": "Rack", "url": reverse("rack")},
                {"label": "Offcut", "url": reverse("offcut_new")},
                {"label": "Upload an outline"},
            ],
        },
    )


def _listed(stops: tuple[Finding, ...], school: School) -> list[dict[str, Any]]:
    """The stops with the place of each in words: there is no picture of a piece not yet read."""
    rows = []
    for one in numbered(stops, school):
        place = ""
        if one.at is not None:
            x, y = (format_length(value, school.units) for value in one.at)
            place = f" It lies {x} from the left and {y} from the bottom of the page."
        rows.append({"finding": one, "what": f"{one.what}{place}"})
    return rows


def _received(request: Visit, form: DrawnOffcutForm) -> HttpResponse:
    data = form.cleaned_data
    width = data["width_mm"]
    drawn = read_outline(
        data["file"],
        filename=data["file"].name or "",
        width_mm=None if width is None else float(width),
    )
    with transaction.atomic():
        if not SentForm.is_first(data["once"], request.user):
            messages.info(request, "That offcut was entered already, once.")
            return redirect("rack")
        piece = receive_offcut(
            request.user.school,
            data["metal"],
            drawn.outline,
            acting=request.user,
            cost=data["cost"],
            reason=data["reason"],
            clean_edges=data["clean_edges"],
            measured_mm=data["measured"],
            place=data["place"],
        )
    _tell(request, piece, drawn)
    return redirect("stock_piece", piece.pk)


def _tell(request: Visit, piece: StockPiece, drawn: DrawnOutline) -> None:
    units = request.user.school.units
    size = f"{format_length(piece.width_mm, units)} by {format_length(piece.height_mm, units)}"
    source = _SIZE_FROM.get(drawn.scale_from, drawn.scale_from)
    messages.success(
        request, f"{piece.code} is on the rack, {size} ({source}). Hold a ruler against it once."
    )
    for caution in drawn.cautions[:5]:
        messages.warning(request, f"{caution.message} {caution.mend}".strip())
