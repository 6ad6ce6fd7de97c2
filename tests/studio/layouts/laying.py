"""Layouts for tests of what becomes of them: laid in a row along the lower edge of the metal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils import timezone

from classroom.models import User
from inventory.models import StockPiece
from studio.core.cutting import Placement
from studio.core.cutting.by_hand import placement_to_json
from studio.models import Layout, Pattern, Project
from studio.steps.plans.asking import make_job, piece_id

GAP_MM = 2.0


def in_a_row(
    pattern: Pattern, metal: str, *, at: tuple[float, float] = (GAP_MM, GAP_MM)
) -> list[dict[str, Any]]:
    """Every copy of every piece beside the one before, from that corner to the right."""
    x, y = at
    laid = []
    for piece in pattern.drawing.pieces:
        x0, y0, x1, _ = piece.outline.bounds
        for copy in range(pattern.copies):
            place = Placement(piece_id(pattern, piece), copy, metal, False, 0.0, x - x0, y - y0)
            laid.append(placement_to_json(place))
            x += x1 - x0 + GAP_MM
    return laid


def pattern_of(project: Project) -> Pattern:
    found = project.patterns.current().select_related("project__brief__course__school").first()
    assert found is not None
    return found


def layout(
    project: Project,
    stock: Sequence[StockPiece],
    *,
    at: tuple[float, float] = (GAP_MM, GAP_MM),
    handed_in: bool = False,
    chosen: bool = True,
    owner: User | None = None,
    name: str = "",
) -> Layout:
    """A try of the project's student, with all pieces on the first stock piece."""
    pattern = pattern_of(project)
    return Layout.objects.create(
        project=project,
        pattern=pattern,
        number=project.layouts.count() + 1,
        owner=owner or project.student,
        name=name,
        job=make_job([pattern], list(stock), project.brief.course.school),
        placements=in_a_row(pattern, stock[0].code, at=at),
        chosen=chosen,
        handed_in_at=timezone.now() if handed_in else None,
    )
