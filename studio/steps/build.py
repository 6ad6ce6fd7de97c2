"""A pattern built from shapes: every change is kept at once, on one draft.

The recipe stands on the draft revision, and with each change its file, tracing, drawing and
findings are made anew from it, by the same reading as every uploaded file. So nothing is lost
when a tab dies, and dragging a shape about makes no new revisions. A new revision begins when
the current one came from a file, or was returned by the teacher.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.building import Built, Draft, Recipe, RecipeError, build
from studio.core.drawing import Limits
from studio.core.reading import PatternError, Source, Tracing, read_pattern
from studio.core.writing import written
from studio.core.writing.svg import MARGIN_MM
from studio.models import Pattern, Project

from .correct import version_of
from .read_in import OPEN_STAGES, current_pattern, next_number, replace_current
from .recheck import Checked, look_at, put_down
from .start_project import require_at_work
from .upload_quota import require_room

FILE_NAME = "built-from-shapes.svg"


class ChangedMeanwhile(Refused):
    """Another window has changed the shapes since this one was loaded."""

    def __init__(self) -> None:
        super().__init__(
            "The shapes were changed in another window meanwhile, so this change was not made. "
            "This is the newest state; do it again here if you still want it."
        )


@dataclass(frozen=True, slots=True)
class Made:
    """A recipe followed, written, read back and checked; nothing of it is stored yet.

    The drawing has its origin at the corner of the written page, as every file has; the middle
    of the recipe's paper lies at `middle` there.
    """

    built: Built
    data: bytes
    tracing: Tracing
    checked: Checked

    @property
    def middle(self) -> tuple[float, float]:
        left, low, _, _ = self.built.sheet.bounds_mm
        return MARGIN_MM - left, MARGIN_MM - low


def made_of(recipe: Recipe, limits: Limits) -> Made:
    """Raises RecipeError for a recipe that cannot be built or read back."""
    built = build(recipe, limits)
    data = written(built.sheet, "svg")
    if not built.sheet.layers:
        tracing = Tracing(Source("svg", "mm", "file"), ())
    else:
        try:
            tracing = read_pattern(data, filename=FILE_NAME)
        except PatternError as error:
            raise RecipeError(error.message, error.mend) from error
    return Made(built, data, tracing, look_at(tracing, {}, limits))


def draft_of(pattern: Pattern | None) -> Draft:
    """The recipe of a pattern to go on with; an empty one where it has none."""
    if pattern is None or pattern.recipe is None:
        return Draft()
    return Draft.from_json(pattern.recipe)


def base_of(pattern: Pattern | None) -> str:
    """Names the state of the project's pattern that a page was made from.

    Corrected or named lines count: a change of the shapes puts them away, so whoever makes one
    must have been told of them.
    """
    if pattern is None:
        return "0"
    if pattern.recipe is None:
        return str(pattern.pk)
    built = f"{pattern.pk}.{pattern.recipe.get('stamp', 0)}"
    by_hand = bool(pattern.changes or pattern.relabels)
    return f"{built}.{version_of(pattern)}" if by_hand else built


def keep(project: Project, draft: Draft, *, acting: User, base: str) -> tuple[Pattern, Made]:
    """Store the draft's recipe and what comes of it, if nothing changed since `base`.

    Raises RecipeError (cannot be built), `ChangedMeanwhile` or another Refused. Small changes
    to one draft write no row of history: what is told is that building began.
    """
    require_at_work(project)
    made = made_of(draft.recipe, project.brief.limits)
    stored = ""
    stale = ""
    try:
        with transaction.atomic():
            _take_the_project(project)
            current = current_pattern(project)
            if base_of(current) != base:
                raise ChangedMeanwhile
            going_on = (
                current is not None
                and current.state == Pattern.State.DRAFT
                and current.recipe is not None
            )
            if going_on:
                assert current is not None
                mine = current
                stale = mine.file.name or ""
            else:
                copies = current.copies if current is not None else 1
                require_room(project, len(made.data))
                replace_current(project)
                mine = Pattern(number=next_number(project), copies=copies)
            mine.project = project
            _fill(mine, draft, made)
            mine.file.save(FILE_NAME, ContentFile(made.data), save=False)
            stored = mine.file.name or ""
            mine.save()
            if not going_on:
                record(
                    acting,
                    "pattern-built",
                    project,
                    f"began building pattern {mine.number} from shapes",
                    pattern=mine.pk,
                )
            if stale and not _used_elsewhere(mine, stale):
                transaction.on_commit(lambda: mine.file.storage.delete(stale))
    except BaseException:
        if stored:
            mine.file.storage.delete(stored)
        raise
    return mine, made


def _fill(mine: Pattern, draft: Draft, made: Made) -> None:
    """Names given to lines of the former drawing go: the lines are others now."""
    mine.file_name = FILE_NAME
    mine.sha256 = hashlib.sha256(made.data).hexdigest()
    mine.width_mm = None
    mine.tracing = made.tracing.to_json()
    mine.relabels = {}
    mine.changes = []
    mine.recipe = draft.to_json()
    put_down(mine, made.checked)


def _used_elsewhere(mine: Pattern, file_name: str) -> bool:
    """A revision begun from a returned one shares its file, which is evidence."""
    return Pattern.objects.filter(file=file_name).exclude(pk=mine.pk).exists()


def _take_the_project(project: Project) -> None:
    """Hold the project's row, and set its stage, unless the pattern is out of hand already."""
    row = Project.objects.select_for_update().get(pk=project.pk)
    if row.stage == Project.Stage.HANDED_IN:
        raise Refused("The pattern is handed in. Take it back first if you want to change it.")
    if row.stage not in OPEN_STAGES:
        raise Refused("The pattern is approved already, so it can no longer be changed here.")
    if row.stage != Project.Stage.DRAWING:
        Project.objects.filter(pk=project.pk).update(
            stage=Project.Stage.DRAWING, stage_since=timezone.now()
        )
    project.refresh_from_db(fields=["stage", "stage_since", "metal"])
