"""One more question about a file: how large is the picture, or what is one unit of the drawing?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from classroom.acting import said_on
from classroom.figures.units import Units, format_length
from classroom.files.waiting_files import KEPT, waiting_file
from classroom.models import School, WaitingFile, subject_of
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Busy, as_busy
from studio.core.drawing import Limits
from studio.core.reading.bounds import MAX_SIZE_MM, MIN_SIZE_MM
from studio.core.reading.dxf.units import OFFERED, unit_named
from studio.core.reading.known_things import MOST_MARKS, THINGS
from studio.forms.patterns.known_size import DpiForm, MarkForm, WidthForm
from studio.models import Errand, Project
from studio.queries.patterns import pattern_for, project_for
from studio.running.errands.starting import NewErrand
from studio.steps.patterns.versions import require_open
from studio.views.errands.landing import (
    begun,
    landed,
    seen,
    to_the_waiting_page,
    typed_for,
    typed_in,
)

from .bringing import read_well
from .crumbs import pattern_crumbs

_UNIT_WORDS = {
    "mm": "a millimetre",
    "cm": "a centimetre",
    "in": "an inch",
    "m": "a metre",
    "ft": "a foot",
}
_TRAIL = {"size": "How large is it?", "unit": "Which unit?"}


_WAYS = (
    "way",
    "unit",
    "width_mm",
    "dpi",
    "thing",
    "length_mm",
    *(f"{axis}{number}" for number in range(1, MOST_MARKS + 1) for axis in "xy"),
)
"""All fields of all ways to answer."""


@dataclass(frozen=True, slots=True)
class Sent:
    """An answer as typed; `trouble` says why it came to nothing already, so it is not tried."""

    data: QueryDict | None = None
    trouble: str = ""

    def of(self, way: str) -> QueryDict | None:
        return self.data if self.data is not None and self.data.get("way") == way else None


@requires(Action.DRAW_PATTERN)
def pattern_waiting(request: Visit, project_pk: int, token: str) -> HttpResponse:
    """The question with all its ways to answer; `way` says which one was taken."""
    project = project_for(request.user, project_pk)
    errand = landed(request, Errand.Kind.SIZE, project)
    if errand is not None and "pattern" in seen(errand).outcome:
        return _read_well(request, errand)
    waiting = waiting_file(request.user, project, token)
    if waiting is None or "question" not in waiting.known:
        return _no_longer_kept(request, project)
    page = _unit if waiting.known["question"] == "unit" else _size
    sent = Sent(request.POST if request.method == "POST" else None)
    if errand is not None:
        sent = Sent(typed_in(errand), errand.trouble)
    try:
        return page(request, project, waiting, sent)
    except Busy as busy:
        return as_busy(page(request, project, waiting, replace(sent, trouble=str(busy))), busy)


def _read_well(request: Visit, errand: Errand) -> HttpResponse:
    return read_well(request, pattern_for(request.user, errand.outcome["pattern"]))


@requires(Action.DRAW_PATTERN)
@require_GET
def pattern_waiting_picture(request: Visit, project_pk: int, token: str) -> HttpResponse:
    """The small picture that the reading process made anew, for its owner only."""
    project = project_for(request.user, project_pk)
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


def _size(request: Visit, project: Project, waiting: WaitingFile, sent: Sent) -> HttpResponse:
    school = project.brief.course.school
    wide, high = waiting.known["picture"]
    way = sent.data.get("way", "") if sent.data is not None else ""
    mark = MarkForm(sent.of("mark"), school=school, size=(wide, high))
    width = WidthForm(sent.of("width"), school=school)
    dpi = DpiForm(sent.of("dpi"), school=school)
    chosen = {"mark": mark, "width": width, "dpi": dpi}.get(way)
    if chosen is not None and chosen.is_valid():
        answers: dict[str, Callable[[], dict[str, Any]]] = {
            "mark": lambda: {"reference": mark.reference.to_json()},
            "width": lambda: {"width_mm": float(width.cleaned_data["width_mm"])},
            "dpi": lambda: {"dpi": dpi.cleaned_data["dpi"]},
        }
        done = _answered(request, project, waiting, chosen, sent, **answers[way]())
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


def _unit(request: Visit, project: Project, waiting: WaitingFile, sent: Sent) -> HttpResponse:
    school = project.brief.course.school
    chosen, wide = sent.of("unit"), sent.of("width")
    width = WidthForm(wide, school=school)
    plain = forms.Form(sent.data or None)
    offers = unit_offers(waiting.known["units"], project.brief.limits, school)
    done: HttpResponse | None = None
    if chosen is not None and chosen.get("unit") in {offer.unit for offer in offers}:
        done = _answered(request, project, waiting, plain, sent, unit=chosen["unit"])
    elif chosen is not None:
        plain.add_error(None, "Choose one of the units.")
    elif wide is not None and width.is_valid():
        width_mm = float(width.cleaned_data["width_mm"])
        done = _answered(request, project, waiting, width, sent, width_mm=width_mm)
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
    request: Visit,
    project: Project,
    waiting: WaitingFile,
    form: forms.Form,
    sent: Sent,
    **said: Any,
) -> HttpResponse | None:
    """Where it goes on; None when the question is shown again. Raises Busy."""
    if sent.trouble:
        form.add_error(None, sent.trouble)
        return None
    asked = {
        "project": project.pk,
        "waiting": waiting.token,
        "said": said,
        "typed": typed_for(request, _WAYS),
    }
    back = reverse("pattern_waiting", args=[project.pk, waiting.token])
    wanted = NewErrand(Errand.Kind.SIZE, waiting.file_name, back, subject_of(project), asked)
    errand = None
    with said_on(form):
        require_open(project)
        errand = begun(request, wanted)
    if errand is None:
        return None
    if errand.is_open:
        return to_the_waiting_page(errand)
    found = seen(errand).outcome
    if "pattern" in found:
        return _read_well(request, errand)
    if found.get("gone"):
        return _no_longer_kept(request, project)
    form.add_error(None, errand.trouble)
    return None


def _frame(request: Visit, project: Project, waiting: WaitingFile) -> dict[str, Any]:
    return {
        "project": project,
        "brief": project.brief,
        "waiting": waiting,
        "kept_until": timezone.localtime(waiting.brought_at + KEPT),
        "crumbs": pattern_crumbs(request, project, _TRAIL[waiting.known["question"]]),
    }
