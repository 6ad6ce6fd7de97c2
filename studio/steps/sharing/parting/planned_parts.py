"""Into which parts does a plan part one of its stock pieces, and whose is each?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shapely.geometry import MultiPolygon, Polygon

from studio.core.cutting.groups import project_of
from studio.core.verifying import parts_of
from studio.models import CutPlan, PlanProject


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """A part as planned, where it lies in the stock piece (mm). `share` is whose blank it is;
    None for a leftover. `metal` are its connected areas; a blank has one."""

    number: int
    outline: Polygon | MultiPolygon
    share: PlanProject | None = None

    @property
    def metal(self) -> tuple[Polygon, ...]:
        if isinstance(self.outline, Polygon):
            return (self.outline,)
        return tuple(self.outline.geoms)

    @property
    def is_blank(self) -> bool:
        return self.share is not None

    @property
    def can_be_measured(self) -> bool:
        return len(self.metal) == 1

    @property
    def size_mm(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0


def planned_parts(plan: CutPlan, code: str) -> tuple[PlannedPart, ...]:
    """The parts of the plan's stock piece with this label, in the order of their numbers."""
    assert plan.laid is not None
    blanks = {one.part: one for one in plan.laid.blanks if one.metal == code}
    parts = parts_of(plan.asked, code, plan.laid.cuts)
    shares = _shares_by_project(plan)
    found = []
    for number, outline in sorted(parts.items()):
        blank = blanks.get(number)
        if blank is None:
            found.append(PlannedPart(number, outline))
        else:
            found.append(PlannedPart(number, blank.outline, shares[project_of(blank.group)]))
    return tuple(found)


def _shares_by_project(plan: CutPlan) -> Mapping[int, PlanProject]:
    rows = plan.shares.select_related("project__seat__student", "project__brief", "pattern")
    return {row.project_id: row for row in rows}
