"""Which students' pieces lie together on a stock piece, by what plans have placed.

The number of queries does not grow with the plans, and outlines are never read for it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from shapely.geometry import Polygon

from studio.core.cutting import Job
from studio.core.cutting.job import Wanted
from studio.core.picturing.plan import labels_of
from studio.models import CutPlan, PlanProject, PlanStock


@dataclass(frozen=True, slots=True)
class SharedStock:
    """A live stock piece of a plan that carries pieces of several students, with their shares in
    the order of their turns; those left out are among them, not live."""

    plan_stock: PlanStock
    shares: tuple[PlanProject, ...]

    @property
    def live(self) -> tuple[PlanProject, ...]:
        """Shares of students who still work on it; whoever has left the course does not."""
        return tuple(one for one in self.shares if one.live and one.project.seat.left_at is None)


def shared_stock_of(plans: Collection[int], *, least: int = 2) -> list[SharedStock]:
    """The stock pieces of these plans (by pk) that they hold, with pieces of `least` students.

    Plan and stock piece come with each, and student and brief with each share.
    """
    lying = _lying(plans)
    shares: dict[int, list[PlanProject]] = {}
    rows = PlanProject.objects.filter(plan__in=plans).select_related(
        "project__seat__student", "project__brief", "project__seat__course"
    )
    for share in rows.order_by("turn", "pk"):
        shares.setdefault(share.plan_id, []).append(share)
    stock = (
        PlanStock.objects.filter(plan__in=plans, live=True)
        .select_related("stock_piece", "plan__course__school", "plan__metal")
        .defer("plan__job", "plan__answer")
        .order_by("plan", "pk")
    )
    found = []
    for row in stock:
        here = lying.get((row.plan_id, row.stock_piece.code), set())
        on_it = tuple(one for one in shares.get(row.plan_id, ()) if one.pattern_id in here)
        if len(on_it) >= least:
            found.append(SharedStock(row, on_it))
    return found


def stock_with_shares(plan_stock: PlanStock) -> SharedStock:
    """This one, with everybody whose pieces lie on it. It is held by its plan."""
    every = shared_stock_of([plan_stock.plan_id], least=0)
    return next(one for one in every if one.plan_stock.pk == plan_stock.pk)


def stock_under(share: PlanProject) -> set[str]:
    """Label codes of the stock pieces on which the share's pieces lie."""
    return {
        code
        for (_, code), patterns in _lying([share.plan_id]).items()
        if share.pattern_id in patterns
    }


def letters_in(plans: Collection[int]) -> dict[tuple[int, str], str]:
    """The letter of each group of each plan, as its pictures have it, by plan and group."""
    found = {}
    rows = CutPlan.objects.filter(pk__in=plans).values_list("pk", "job__pieces")
    for pk, pieces in rows:
        nothing = Polygon()
        wanted = tuple(Wanted(one["id"], nothing, group=one.get("group")) for one in pieces or ())
        for group, letter in labels_of(Job((), wanted)).items():
            found[pk, group] = letter
    return found


def _lying(plans: Iterable[int]) -> dict[tuple[int, str], set[int]]:
    """Patterns by plan and label code: a piece's id begins with its pattern's number."""
    found: dict[tuple[int, str], set[int]] = {}
    rows = CutPlan.objects.filter(pk__in=list(plans)).values_list("pk", "answer__placements")
    for pk, placements in rows:
        for one in placements or ():
            pattern = one["piece"].partition("/")[0]
            if pattern.isdecimal():
                found.setdefault((pk, one["metal"]), set()).add(int(pattern))
    return found
