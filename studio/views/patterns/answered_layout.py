"""The layout on the teacher's page of a pattern: what was handed in, what was nudged, and at what
of the two pictures a remark may point."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from classroom.models import School, User
from studio.forms.patterns.answering import Mark
from studio.models import Brief, Layout, Pattern
from studio.queries.layouts import STEPS
from studio.steps.layouts.tries import name_of
from studio.views.own_layouts.shown import LayoutShown, shown_layout

MOST_PLACES = 80


class LayoutsToAnswer:
    """Of one pattern: the student's layout as `handed`, the teacher's own try as `nudged`."""

    def __init__(self, pattern: Pattern, user: User, school: School) -> None:
        self.pattern, self.school = pattern, school
        project = pattern.project
        self.laid_by_server = project.brief.laid_by == Brief.LaidBy.SERVER
        rows = list(
            project.layouts.filter(pattern=pattern)
            .select_related("owner")
            .defer(*STEPS)
            .order_by("-number")
        )
        own = [row for row in rows if row.owner_id == project.seat.student_id]
        theirs = [row for row in rows if row.owner.is_teacher]
        handed = [row for row in own if row.is_handed_in]
        shown = handed or [row for row in own if row.chosen]
        self.handed = shown[0] if shown and not self.laid_by_server else None
        self.nudged = theirs[0] if theirs and self.handed else None
        for row in (self.handed, self.nudged):
            if row is not None:
                row.project, row.pattern = project, pattern

    @property
    def may_nudge(self) -> bool:
        """Whether the layout was handed in, and not nudged since."""
        if self.handed is None or self.handed.handed_in_at is None:
            return False
        return self.nudged is None or self.nudged.created_at < self.handed.handed_in_at

    def choices(self) -> list[tuple[str, str]]:
        """Which try the plan takes; nothing to choose where there is but one."""
        if self.handed is None or self.nudged is None:
            return []
        called = "as it was handed in" if self.handed.is_handed_in else "though not handed in"
        first = (str(self.handed.pk), f"the student’s layout, {called}")
        second = (str(self.nudged.pk), f"yours: {name_of(self.nudged)}")
        return [second, first] if self.nudged.chosen else [first, second]

    def chosen(self, key: str) -> Layout | None:
        for row in (self.handed, self.nudged):
            if row is not None and str(row.pk) == key:
                return row
        return None

    def metals(self) -> set[str]:
        """Label codes of the stock pieces on whose pictures a mark may stand."""
        return {p.metal for p in self.handed.laid} if self.handed else set()

    def places(self) -> dict[str, tuple[str, Mark]]:
        """What may be pointed at without a tap: every piece, drawn and laid."""
        found: dict[str, tuple[str, Mark]] = {}
        for piece in self.pattern.drawing.pieces[:MOST_PLACES]:
            spot = piece.outline.representative_point()
            mark = {
                "on": "pattern",
                "metal": "",
                "x_mm": round(spot.x, 2),
                "y_mm": round(spot.y, 2),
            }
            found[f"pattern-{piece.id}"] = (f"piece {piece.id} of the pattern", mark)
        if self.handed is None:
            return found
        wanted = self.handed.asked.wanted_by_id
        for number, p in enumerate(self.handed.laid[:MOST_PLACES]):
            if p.piece not in wanted:
                continue
            spot = p.lay(wanted[p.piece].outline).representative_point()
            copy = f", copy {p.copy + 1}" if wanted[p.piece].count > 1 else ""
            name = p.piece.rpartition("/")[2]
            mark = {
                "on": "layout",
                "metal": p.metal,
                "x_mm": round(spot.x, 2),
                "y_mm": round(spot.y, 2),
            }
            found[f"layout-{number}"] = (f"piece {name}{copy} on {p.metal}", mark)
        return found

    def context(self) -> Mapping[str, Any]:
        handed, nudged = self._shown(self.handed), self._shown(self.nudged)
        return {
            "handed_layout": handed,
            "nudged_layout": nudged,
            "may_nudge_layout": self.may_nudge,
        }

    def _shown(self, layout: Layout | None) -> LayoutShown | None:
        if layout is None:
            return None
        return shown_layout(layout, self.pattern, self.school, mark=self.pattern.mark)
