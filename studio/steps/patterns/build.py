"""A pattern built from shapes: every change is kept at once, beside the pattern.

The builder has a draft of its own, one for each project. Nothing that is done there touches a
version of the pattern, until the student takes the drawing: then it is written, read by the same
reading as every uploaded file, and stands as the current version beside all others. So nothing is
lost when a tab dies, and trying the builder takes nothing away.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.building import Built, Draft, Recipe, RecipeError, build
from studio.core.drawing import Limits
from studio.core.reading import PatternError, Source, Tracing, read_pattern
from studio.core.writing import written
from studio.core.writing.svg import MARGIN_MM
from studio.models import BuilderDraft, Pattern, Project

from .recheck import Checked, look_at, put_down
from .versions import add_version, current_pattern, drop_files, require_open, take_the_project

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


@dataclass(frozen=True, slots=True)
class Opened:
    """The shapes that a project's builder shows, and whence they are.

    `unused` where they are a draft that is no version of the pattern (yet); else they are those
    of the current version, `begun_from`, or there are none. `base` names this very state.
    `trouble` says why a recipe that another release has kept cannot be shown; one begins anew.
    """

    draft: Draft
    base: str
    begun_from: Pattern | None = None
    unused: bool = False
    trouble: str = ""


def opened(project: Project) -> Opened:
    row = BuilderDraft.objects.filter(project=project).select_related("begun_from").first()
    if row is not None:
        base = f"{row.pk}.{row.recipe.get('stamp', 0)}"
        return _read(row.recipe, base, row.begun_from, unused=True)
    current = current_pattern(project)
    if current is None or current.recipe is None:
        return Opened(Draft(), "0")
    return _read(current.recipe, f"of-{current.pk}", current)


def _read(
    recipe: dict[str, Any], base: str, begun_from: Pattern | None, *, unused: bool = False
) -> Opened:
    try:
        return Opened(Draft.from_json(recipe), base, begun_from, unused)
    except RecipeError as broken:
        return Opened(Draft(), base, begun_from, unused, trouble=str(broken))


def draft_of(pattern: Pattern) -> Draft:
    """The recipe of a version that was built, with what can be undone; else an empty one."""
    return Draft() if pattern.recipe is None else Draft.from_json(pattern.recipe)


def keep(project: Project, draft: Draft, *, base: str) -> tuple[Opened, Made]:
    """Store the builder's draft if nothing changed since `base`; no version is touched.

    Raises RecipeError (cannot be built), `ChangedMeanwhile` or another Refused. Small changes
    write no history: what is told is that a drawing was taken.
    """
    require_open(project)
    made = made_of(draft.recipe, project.brief.limits)
    with transaction.atomic():
        before = _held(project, base)
        BuilderDraft.objects.update_or_create(
            project=project,
            defaults={"recipe": draft.to_json(), "begun_from": before.begun_from},
        )
    return opened(project), made


def use(project: Project, *, acting: User, base: str) -> Pattern:
    """Take the builder's drawing: it becomes the current version, beside all others.

    Twice is once. Raises RecipeError, `ChangedMeanwhile` or another Refused, also where nothing
    is on the paper.
    """
    require_open(project)
    now = opened(project)
    if now.trouble:
        raise Refused(now.trouble)
    if not now.unused and now.begun_from is not None:
        return now.begun_from
    if not now.draft.recipe.steps:
        raise Refused("Nothing is on the paper yet. Add a shape, or begin with an example.")
    made = made_of(now.draft.recipe, project.brief.limits)
    fresh = _version_of(project, now, made)
    try:
        with transaction.atomic():
            _held(project, base)
            current = current_pattern(project)
            fresh.copies = current.copies if current is not None else 1
            take_the_project(project)
            BuilderDraft.objects.filter(project=project).delete()
            return add_version(fresh, made.data, acting=acting)
    except BaseException:
        drop_files(fresh)
        raise


def let_go(project: Project, *, acting: User, base: str) -> None:
    """Throw the builder's draft away because the student says so; no version is touched.

    Raises `ChangedMeanwhile` or another Refused. Twice is once.
    """
    require_open(project)
    with transaction.atomic():
        if _held(project, base).unused:
            BuilderDraft.objects.filter(project=project).delete()
            words = "threw the shapes away that were being built"
            record(acting, "shapes-thrown-away", project, words)


def _held(project: Project, base: str) -> Opened:
    """Hold the project's row; raises `ChangedMeanwhile` where its shapes are others by now."""
    Project.objects.select_for_update().get(pk=project.pk)
    project.refresh_from_db(fields=["stage", "stage_since", "metal"])
    require_open(project)
    now = opened(project)
    if now.base != base:
        raise ChangedMeanwhile
    return now


def _version_of(project: Project, now: Opened, made: Made) -> Pattern:
    fresh = Pattern(
        project=project,
        file_name=FILE_NAME,
        sha256=hashlib.sha256(made.data).hexdigest(),
        tracing=made.tracing.to_json(),
        recipe=now.draft.to_json(),
    )
    put_down(fresh, made.checked)
    return fresh
