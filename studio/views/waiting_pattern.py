"""One more question about a file: how large is the picture, or what is one unit of the drawing?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from classroom.models import School, WaitingFile
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.units import Units, format_length
from classroom.waiting_files import KEPT, waiting_file
from studio import queries
from studio.core.drawing import Limits
from studio.core.reading import PatternError
from studio.core.reading.bounds import MAX_SIZE_MM, MIN_SIZE_MM
from studio.core.reading.dxf.units import OFFERED, unit_named
from studio.core.reading.known_things import THINGS
from studio.forms.known_size import DpiForm, MarkForm, WidthForm
from studio.models import Project
from studio.steps.wait_for_size import answer

from .bringing import read_well
from .pattern_crumbs import pattern_crumbs

_UNIT_WORDS = {
    "mm": "a millimetre",
    "cm": "a centimetre",
    "in": "an inch",
    "m": "a metre",
    "ft": "a foot",
}
_TRAIL = {"size": "How large is it?", "unit": "Which unit?"}


@requires(Action.DRAW_PATTERN)
def pattern_waiting(request: Visit, project_pk: int, token: str) -> HttpResponse:
    """The question with all its ways to answer; `way` says which one was taken."""
    project = queries.project_for(request.user, project_pk)
    waiting = waiting_file(request.user, project, token)
    if waiting is None or "question" not in waiting.known:
        return _no_longer_kept(request, project)
    if waiting.known["question"] == "unit":
        return _unit(request, project, waiting)
    return _size(request, project, waiting)


@requires(Action.DRAW_PATTERN)
@require_GET
def pattern_waiting_picture(request: Visit, project_pk: int, token: str) -> HttpResponse:
    """The small picture that the reading process made anew, for its owner only."""
    project = queries.project_for(request.user, project_pk)
    waiting = waiting_file(request.user, project, token)
    if waiting is None or not waiting.shown:
        return _no_longer_kept(request, project)
    try:
        with waiting.shown.open("rb") as shown:
            response = HttpResponse(shown.read(), content_type="image/jpeg")
    except FileNotFoundError:
        return _no_longer_kept(request, project)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _no_longer_kept(request: Visit, project: Project) -> HttpResponse:
    messages.warning(request, "The file is no longer kept here. Choose it again.")
    return redirect("pattern_upload", project_pk=project.pk)


def _size(request: Visit, project: Project, waiting: WaitingFile) -> HttpResponse:
    school = project.brief.course.school
    wide, high = waiting.known["picture"]
    way = request.POST.get("way", "") if request.method == "POST" else ""
    mark = MarkForm(request.POST if way == "mark" else None, school=school, size=(wide, high))
    width = WidthForm(request.POST if way == "width" else None, school=school)
    dpi = DpiForm(request.POST if way == "dpi" else None, school=school)
    chosen = {"mark": mark, "width": width, "dpi": dpi}.get(way)
    if chosen is not None and chosen.is_valid():
        answers: dict[str, Any] = {
            "mark": lambda: {"reference": mark.reference},
            "width": lambda: {"width_mm": float(width.cleaned_data["width_mm"])},
            "dpi": lambda: {"dpi": dpi.cleaned_data["dpi"]},
        }
        done = _answered(request, project, waiting, chosen, **answers[way]())
        if done is not None:
            return done
    things = [
        {"code": one.code, "kind": one.kind, "marks": one.marks, "aspect": _aspect(one)}
        for one in THINGS
    ]
    return render(
        request,
        "studio/patterns/how_large.html",
        _frame(request, project, waiting)
        | {
            "mark": mark,
            "width": width,
            "dpi": dpi,
            "way": way,
            "why": waiting.known.get("why", ""),
            "wide": wide,
            "high": high,
            "things": things,
        },
    )


def _aspect(thing: Any) -> float:
    return float(thing.width_mm / thing.height_mm) if thing.height_mm else 0.0


@dataclass(frozen=True, slots=True)
class UnitOffer:
    unit: str
    words: str
    size: str
    fits: bool
    surest: bool = False


def _unit(request: Visit, project: Project, waiting: WaitingFile) -> HttpResponse:
    school = project.brief.course.school
    way = request.POST.get("way", "") if request.method == "POST" else ""
    width = WidthForm(request.POST if way == "width" else None, school=school)
    plain = forms.Form(request.POST or None)
    offers = unit_offers(waiting.known["units"], project.brief.limits, school)
    done: HttpResponse | None = None
    if way == "unit" and request.POST.get("unit") in {offer.unit for offer in offers}:
        done = _answered(request, project, waiting, plain, unit=request.POST["unit"])
    elif way == "unit":
        plain.add_error(None, "Choose one of the units.")
    elif way == "width" and width.is_valid():
        width_mm = float(width.cleaned_data["width_mm"])
        done = _answered(request, project, waiting, width, width_mm=width_mm)
    if done is not None:
        return done
    return render(
        request,
        "studio/patterns/which_unit.html",
        _frame(request, project, waiting) | {"offers": offers, "width": width, "plain": plain},
    )


def unit_offers(units: Any, limits: Limits, school: School) -> list[UnitOffer]:
    """Each unit that makes a drawing of bearable size, those that fit the brief first.

    The only one that fits is the surest; among several nobody can tell but the student.
    """
    offers = []
    for unit in OFFERED:
        scale = unit_named(unit)[1]
        wide, high = float(units[0]) * scale, float(units[1]) * scale
        if not MIN_SIZE_MM <= max(wide, high) <= MAX_SIZE_MM:
            continue
        typed = Units(school.units)
        size = f"{format_length(wide, typed)} × {format_length(high, typed)}"
        fits = wide <= limits.max_width_mm and high <= limits.max_height_mm
        fits = fits and max(wide, high) >= limits.least_holding_mm
        offers.append(UnitOffer(unit, _UNIT_WORDS[unit], size, fits))
    fitting = [offer for offer in offers if offer.fits]
    if len(fitting) == 1:
        fitting = [replace(fitting[0], surest=True)]
    return fitting + [offer for offer in offers if not offer.fits]


def _answered(
    request: Visit, project: Project, waiting: WaitingFile, form: forms.Form, **said: Any
) -> HttpResponse | None:
    try:
        pattern = answer(project, waiting, acting=request.user, **said)
    except (PatternError, Refused) as refusal:
        form.add_error(None, str(refusal))
    except FileNotFoundError:
        return _no_longer_kept(request, project)
    else:
        return read_well(request, pattern)
    return None


def _frame(request: Visit, project: Project, waiting: WaitingFile) -> dict[str, Any]:
    return {
        "project": project,
        "brief": project.brief,
        "waiting": waiting,
        "kept_until": timezone.localtime(waiting.brought_at + KEPT),
        "crumbs": pattern_crumbs(request, project, _TRAIL[waiting.known["question"]]),
    }
