"""In which order does this student drill and saw? Own pieces only, by the numbers of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.core.cutting.groups import group_of
from studio.core.picturing.paths import numbers
from studio.core.picturing.plan import MetalPicture, Start, marked
from studio.models import Project
from studio.queries.additions import shares_lying
from studio.queries.plans import plans_holding
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.quote import pieces_of
from studio.steps.sharing.turns import groups_in_turn

from .figures import drawn

AROUND_SHARE = 0.15
NUMBER_SHARE = 0.05
"""Of the larger side of what is shown: to be read at arm's length on a phone."""


@dataclass(frozen=True, slots=True)
class SawOrder:
    """One stock piece with the student's own lines on it, in sawing order.

    The numbers are those of the cut plan, so that picture, print and page say the same; a
    classmate's lines take the numbers between.
    """

    picture: MetalPicture
    group: str
    lines: tuple[Start, ...]

    @property
    def mine(self) -> frozenset[str]:
        """Groups that are drawn as the student's own."""
        return frozenset({self.group})

    @property
    def shared(self) -> bool:
        """Whether somebody else's pieces lie on the same stock piece."""
        return any(piece.group != self.group for piece in self.picture.pieces)

    @property
    def deep(self) -> str:
        """Numbers of own lines that the saw frame does not reach: "2, 5", or nothing."""
        return ", ".join(str(line.number) for line in self.lines if line.out_of_reach)


def saw_order(project: Project) -> tuple[SawOrder, ...]:
    """The stock pieces on which the project lies by the plan that was issued; none without one."""
    plan = plans_holding([project]).first()
    if plan is None or plan.laid is None:
        return ()
    shares = shares_lying(plan).select_related("pattern")
    pictures = drawn(
        plan.asked,
        plan.laid,
        lambda: pieces_of(list(shares)),
        frame_depth_mm(project.seat.student.school),
        groups_in_turn(plan),
    )
    group = group_of(project.pk)
    found = []
    for one in pictures:
        own = tuple(start for start in one.starts if start.group == group)
        if own:
            found.append(SawOrder(_near(one, group, own), group, own))
    return tuple(found)


def _near(one: MetalPicture, group: str, own: Sequence[Start]) -> MetalPicture:
    """The part of the stock piece where the group's pieces lie, with own numbers, large."""
    pieces = [piece for piece in one.pieces if piece.group == group]
    x0 = min(piece.corner[0] for piece in pieces)
    y0 = min(piece.corner[1] for piece in pieces)
    width = max(piece.corner[0] + piece.size_mm[0] for piece in pieces) - x0
    height = max(piece.corner[1] + piece.size_mm[1] for piece in pieces) - y0
    larger = max(width, height)
    around = AROUND_SHARE * larger
    radius = round(NUMBER_SHARE * larger, 2)
    return replace(
        one,
        starts=marked(own, radius, one.not_to_hide, one.pieces),
        view_box=numbers(x0 - around, y0 - around, width + 2 * around, height + 2 * around),
        radius_mm=radius,
    )
