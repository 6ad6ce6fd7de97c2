"""Errands of students: a pattern file is read, or read again with its size or unit."""

from __future__ import annotations

from typing import Any

from classroom.models import WaitingFile
from classroom.models.history import subject_of
from inventory.models import Metal
from studio.core.reading import (
    ASK,
    Asked,
    AsksSize,
    AsksUnit,
    Reference,
    TurnedDown,
    Upload,
)
from studio.models import Errand, Project
from studio.queries.patterns import project_for
from studio.steps.patterns.read_in import ReadAhead, Typed, keep_read, read_ahead
from studio.steps.patterns.versions import require_open
from studio.steps.patterns.wait_for_size import (
    answer_ahead,
    ask_for_size,
    ask_for_unit,
    keep_answered,
    picture_to_mark,
)

from .keeping import Deed, let_go_of_kept, turned_down


def bring(errand: Errand) -> Deed:
    """The outcome names the pattern, or the file that waits for one more answer."""
    asked = errand.asked
    project = _project(errand)
    require_open(project)
    said = Asked(errand.title, asked["width_mm"], asked["dpi"], asked["frame"] or None, unit=ASK)
    upload = Upload(errand.content(), said)
    typed = Typed(asked["copies"], Metal.objects.filter(pk=asked["metal"]).first())
    if asked["mark"]:
        return _to_mark(errand, project, upload, typed)
    match read_ahead(project, upload, typed):
        case ReadAhead() as ahead:
            return _done(errand, lambda: {"pattern": keep_read(ahead, acting=errand.owner).pk})
        case AsksSize(why):
            return _to_mark(errand, project, upload, typed, why=str(why))
        case AsksUnit() as asks:
            return _to_name_unit(errand, project, upload, typed, asks)
        case TurnedDown(why):
            return turned_down(errand, str(why), "file")


def _to_mark(
    errand: Errand, project: Project, upload: Upload, typed: Typed, *, why: str = ""
) -> Deed:
    shown = picture_to_mark(upload)
    if isinstance(shown, TurnedDown):
        return turned_down(errand, str(shown.why), "file")

    def wait() -> dict[str, Any]:
        waiting = ask_for_size(project, upload, typed, shown, acting=errand.owner, why=why)
        return {"waiting": waiting.token}

    return _done(errand, wait)


def _to_name_unit(
    errand: Errand, project: Project, upload: Upload, typed: Typed, asks: AsksUnit
) -> Deed:
    def wait() -> dict[str, Any]:
        waiting = ask_for_unit(project, upload, typed, asks, acting=errand.owner)
        return {"waiting": waiting.token}

    return _done(errand, wait)


def _done(errand: Errand, keep: Deed) -> Deed:
    """What the form had kept of the file is over once it is kept elsewhere."""

    def deed() -> dict[str, Any]:
        outcome = keep()
        let_go_of_kept(errand)
        return outcome

    return deed


def answer(errand: Errand) -> Deed:
    """The file waits on where it was refused; the outcome names the pattern else."""
    asked = errand.asked
    project = _project(errand)
    require_open(project)
    waiting = WaitingFile.objects.filter(
        owner=errand.owner, about=subject_of(project), token=asked["waiting"]
    ).first()
    if waiting is None:
        raise FileNotFoundError
    said = dict(asked["said"])
    if said.get("reference") is not None:
        said["reference"] = Reference.from_json(said["reference"])
    match answer_ahead(project, waiting, **said):
        case ReadAhead() as ahead:
            return lambda: {"pattern": keep_answered(ahead, waiting, acting=errand.owner).pk}
        case unread:
            return turned_down(errand, str(unread.why), "file")


def _project(errand: Errand) -> Project:
    """Asked anew: since the request, the student may have left the course. Raises Http404."""
    return project_for(errand.owner, errand.asked["project"])
