"""Errands of students: a pattern file is read, or read again with its size or unit."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

from classroom.models import WaitingFile
from classroom.models.history import subject_of
from inventory.models import Metal
from studio.core.reading import PatternError, Reference, UnitUnknown
from studio.core.reading.sources import PICTURES, kind_of
from studio.models import Errand, Project
from studio.queries.projects import project_for
from studio.steps.patterns.read_in import keep_read, read_ahead
from studio.steps.patterns.versions import require_open
from studio.steps.patterns.wait_for_size import (
    ASKS_FOR_SIZE,
    Typed,
    answer_ahead,
    ask_for_size,
    ask_for_unit,
    keep_answered,
    picture_to_mark,
)

from .keeping import let_go_of_kept

Deed = Callable[[], dict[str, Any]]


def bring(errand: Errand) -> Deed:
    """The outcome names the pattern, or the file that waits for one more answer."""
    asked = errand.asked
    project = _project(errand)
    require_open(project)
    data = errand.content()
    said = Typed(asked["copies"], Metal.objects.filter(pk=asked["metal"]).first())
    if asked["mark"]:
        return _to_mark(errand, project, data, said)
    try:
        ahead = read_ahead(
            project,
            BytesIO(data),
            filename=errand.title,
            width_mm=asked["width_mm"],
            dpi=asked["dpi"],
            frame=asked["frame"] or None,
            copies=said.copies,
            metal=said.metal,
        )
    except UnitUnknown as unknown:
        return _which_unit(errand, project, data, said, (unknown.width, unknown.height))
    except PatternError as error:
        if error.code in ASKS_FOR_SIZE and kind_of(data, errand.title) in PICTURES:
            return _to_mark(errand, project, data, said, why=str(error))
        raise

    def deed() -> dict[str, Any]:
        pattern = keep_read(ahead, acting=errand.owner)
        let_go_of_kept(errand)
        return {"pattern": pattern.pk}

    return deed


def _to_mark(errand: Errand, project: Project, data: bytes, said: Typed, *, why: str = "") -> Deed:
    shown = picture_to_mark(data, errand.title)

    def deed() -> dict[str, Any]:
        waiting = ask_for_size(
            project, data, errand.title, shown, said, acting=errand.owner, why=why
        )
        let_go_of_kept(errand)
        return {"waiting": waiting.token}

    return deed


def _which_unit(
    errand: Errand, project: Project, data: bytes, said: Typed, size: tuple[float, float]
) -> Deed:
    def deed() -> dict[str, Any]:
        waiting = ask_for_unit(project, data, errand.title, said, size, acting=errand.owner)
        let_go_of_kept(errand)
        return {"waiting": waiting.token}

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
    ahead = answer_ahead(project, waiting, **said)
    return lambda: {"pattern": keep_answered(ahead, waiting, acting=errand.owner).pk}


def _project(errand: Errand) -> Project:
    """Asked anew: since the request, the student may have left the course. Raises Http404."""
    return project_for(errand.owner, errand.asked["project"])
