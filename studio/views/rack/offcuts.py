"""An offcut of any outline, uploaded as SVG (the pattern reader reads it, so it lives here)."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.figures.units import format_length
from classroom.models import School, subject_of
from classroom.permissions import Action, Visit, requires
from inventory.models import StockPiece
from inventory.queries import stock_piece_for
from studio.core.drawing import Finding
from studio.core.reading import Upload
from studio.core.reading.uploads import require_readable
from studio.forms.rack.offcut import DrawnOffcutForm
from studio.models import Errand
from studio.running.errands.starting import NewErrand
from studio.views.errands.brought_file import kept_by, kept_in, kept_tokens
from studio.views.errands.landing import brought, handed_on, seen, typed_for, typed_in
from studio.views.patterns.findings import numbered

_SIZE_FROM = {
    "file": "as the file says",
    "option": "from the width you typed",
    "resolution": "the file names no unit, so 96 px were taken for an inch",
}


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def offcut_from_svg(request: Visit) -> HttpResponse:
    """The form; a worker reads the drawing and puts the piece on the rack."""
    school = request.user.school
    return brought(
        request,
        Errand.Kind.OUTLINE,
        school,
        form=lambda: DrawnOffcutForm(
            request.POST or None,
            request.FILES or None,
            acting=request.user,
            kept=kept_in(request, school),
        ),
        bring=partial(_bring, request),
        page=partial(_page, request),
        came_of_it=partial(_came_of_it, request),
    )


def _page(request: Visit, form: DrawnOffcutForm, stops: tuple[Finding, ...] = ()) -> HttpResponse:
    return render(
        request,
        "inventory/rack/offcut_from_svg.html",
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


def _bring(request: Visit, form: DrawnOffcutForm) -> Errand | None:
    wanted = partial(_wanted, request, form)
    return handed_on(request, request.user.school, form, require_readable, wanted)


def _wanted(request: Visit, form: DrawnOffcutForm, upload: Upload) -> NewErrand:
    typed = form.cleaned_data
    asked = {
        "metal": typed["metal"].pk,
        "width_mm": None if typed["width_mm"] is None else float(typed["width_mm"]),
        "measured": None if typed["measured"] is None else str(typed["measured"]),
        "cost": str(typed["cost"]),
        "reason": typed["reason"] + (" (read twice)" if form.asked else ""),
        "clean_edges": typed["clean_edges"],
        "place": typed["place"],
        "once": None if typed["once"] is None else str(typed["once"]),
        "typed": typed_for(request, form.names()),
        **kept_tokens(form),
    }
    back, about = reverse("offcut_from_svg"), subject_of(request.user.school)
    return NewErrand(Errand.Kind.OUTLINE, upload.name, back, about, asked, upload.data)


def _came_of_it(request: Visit, errand: Errand) -> HttpResponse:
    """On to the stock piece; else the form again, its file kept."""
    found = seen(errand).outcome
    if "again" in found:
        messages.info(request, "That offcut was entered already, once.")
        return redirect("rack")
    if "piece" in found:
        piece = stock_piece_for(request.user, found["piece"])
        _tell(request, piece, found["from"], found["cautions"])
        return redirect("stock_piece", piece.pk)
    stops = tuple(Finding.from_json(one) for one in found.get("stops", ()))
    kept = kept_by(request, request.user.school, errand)
    form = DrawnOffcutForm(typed_in(errand), acting=request.user, kept=kept)
    return _page(request, form.again(errand.trouble, found.get("on", "")), stops)


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


def _tell(request: Visit, piece: StockPiece, scale_from: str, cautions: list[str]) -> None:
    units = request.user.school.units
    size = f"{format_length(piece.width_mm, units)} by {format_length(piece.height_mm, units)}"
    source = _SIZE_FROM.get(scale_from, scale_from)
    messages.success(
        request, f"{piece.code} is on the rack, {size} ({source}). Hold a ruler against it once."
    )
    for caution in cautions:
        messages.warning(request, caution)
