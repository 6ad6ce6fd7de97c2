"""All versions of a project's pattern side by side, at one scale, and using one of them again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Case, QuerySet, When
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from classroom.figures.units import Units, format_length
from classroom.models import School
from classroom.permissions import Action, Visit, requires
from studio.core.drawing import Drawing
from studio.models import Pattern, Project
from studio.queries.patterns import pattern_for, project_for
from studio.steps.at_work import why_shut
from studio.steps.patterns.versions import OPEN_STAGES, use_again
from studio.telling.today.stages import PATTERN_WORDS, StageWords

from .crumbs import pattern_crumbs
from .picture import Thumbnail, thumbnail_of, thumbnail_of_lines

ON_THE_PROJECTS_PAGE = 4
ON_A_PAGE = 12


@dataclass(frozen=True, slots=True)
class VersionCard:
    """One version with its picture; all cards of a page are drawn at the same scale."""

    pattern: Pattern
    words: StageWords
    thumb: Thumbnail | None
    size: str
    stops: int
    made_how: str
    may_use_again: bool

    @property
    def is_current(self) -> bool:
        return self.pattern.is_current


def may_change_versions(project: Project, *, student: bool) -> bool:
    return student and project.stage in OPEN_STAGES and not why_shut(project)


def versions_of(project: Project) -> QuerySet[Pattern]:
    """The current one first, then the newest; what was read out of each file stays where it is."""
    light = project.patterns.defer("tracing", "relabels", "changes", "recipe")
    aside = Case(When(state=Pattern.State.ASIDE, then=1), default=0)
    return light.with_how_made().select_related("reviewed_by").order_by(aside, "-number")


def version_cards(
    patterns: Iterable[Pattern], school: School, *, may_change: bool
) -> list[VersionCard]:
    """`patterns` come from `versions_of`."""
    found = [(one, one.drawing) for one in patterns]
    span = max((max(_size(drawing)) for _, drawing in found), default=0.0)
    return [_card(one, drawing, span, school, may_change) for one, drawing in found]


def _card(
    pattern: Pattern, drawing: Drawing, span: float, school: School, may_change: bool
) -> VersionCard:
    size = ""
    if drawing.pieces:
        units = Units(school.units)
        size = " × ".join(format_length(side, units) for side in _size(drawing))
    return VersionCard(
        pattern=pattern,
        words=version_words(pattern),
        thumb=thumbnail_of(drawing, large=True, span_mm=span)
        or thumbnail_of_lines(pattern, span_mm=span),
        size=size,
        stops=len(pattern.stops),
        made_how=_made_how(pattern),
        may_use_again=may_change and not pattern.is_current,
    )


def version_words(pattern: Pattern) -> StageWords:
    """A version set aside that carries a remark was returned first; that is what matters."""
    if not pattern.is_current and pattern.reviewed_at is not None:
        return PATTERN_WORDS["returned"]
    return PATTERN_WORDS[pattern.state]


def _made_how(pattern: Pattern) -> str:
    said = "built from shapes" if pattern.was_built else pattern.file_name  # type: ignore[attr-defined]
    return f"{said}, then corrected" if pattern.was_corrected else said  # type: ignore[attr-defined]


def _size(drawing: Drawing) -> tuple[float, float]:
    """Across and up, in millimetres; nothing where no piece was recognised."""
    if not drawing.pieces:
        return 0.0, 0.0
    x0, y0, x1, y1 = drawing.bounds_mm
    return x1 - x0, y1 - y0


@requires(Action.SEE_PROJECT)
@require_GET
def project_versions(request: Visit, pk: int) -> HttpResponse:
    project = project_for(request.user, pk)
    page = Paginator(versions_of(project), ON_A_PAGE).get_page(request.GET.get("page"))
    may_change = may_change_versions(project, student=request.user.is_student)
    context: dict[str, Any] = {
        "project": project,
        "brief": project.brief,
        "page": page,
        "cards": version_cards(page, request.user.school, may_change=may_change),
        "may_change": may_change,
        "crumbs": pattern_crumbs(request, project, "Every version"),
    }
    return render(request, "studio/patterns/versions.html", context)


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_use_again(request: Visit, pk: int) -> HttpResponse:
    pattern = pattern_for(request.user, pk)
    after = use_again(pattern, acting=request.user)
    messages.success(
        request, f"Pattern {after.number} is the current one again. The others are kept."
    )
    return redirect("pattern", pk=after.pk)
