"""Why is a plan good, and which of two is better? Figures that a student understands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from studio.core.cutting import Job, Plan
from studio.core.picturing.edges import Edges, edges_of
from studio.models import CutPlan, PlanProject
from studio.steps.plans.asking import sides_of
from studio.steps.plans.quote import planned_total

LEAST_MM = 5.0  # of sawing, and
LEAST_SHARE = 0.02  # of metal: less is nothing to speak of


@dataclass(frozen=True, slots=True)
class Reasons:
    """What a plan spares against sawing every piece out alone, from a rectangle of its own: its
    sides, and one kerf to saw it free."""

    longer_mm: float  # sides of the largest rectangle that stays whole; 0 where none does
    shorter_mm: float
    shape: str
    saved_mm: float
    boxes_mm2: float  # metal that a rectangle for each piece would take
    used_mm2: float
    in_windows: int

    @property
    def saves_sawing(self) -> bool:
        return self.saved_mm >= LEAST_MM

    @property
    def saves_metal(self) -> bool:
        return self.used_mm2 <= (1.0 - LEAST_SHARE) * self.boxes_mm2

    @property
    def metal_share(self) -> float:
        """By how much less metal is used up, 0 to 1."""
        return 1.0 - self.used_mm2 / self.boxes_mm2 if self.boxes_mm2 else 0.0


def reasons_of(job: Job, plan: Plan) -> Reasons:
    """What speaks for this plan, from its judged measures."""
    longer, shorter = plan.measures.largest_rectangle_mm
    boxes = rims = 0.0
    for placed in plan.placements:
        rims += job.wanted_by_id[placed.piece].outline.length
        sides = sides_of(job.wanted_by_id[placed.piece].outline)
        boxes += (sides[0] + job.kerf_mm) * (sides[1] + job.kerf_mm)
    return Reasons(
        longer_mm=longer,
        shorter_mm=shorter,
        shape="strip" if longer > 2 * shorter else "rectangle",
        saved_mm=max(0.0, rims - plan.measures.saw_line_mm),
        boxes_mm2=boxes,
        used_mm2=plan.measures.consumed_mm2,
        in_windows=_in_windows(job, plan),
    )


def _in_windows(job: Job, plan: Plan) -> int:
    """How many pieces lie in another piece's window."""
    windows: dict[str, list[Any]] = {}
    laid = [(p, p.lay(job.wanted_by_id[p.piece].outline)) for p in plan.placements]
    for placed, outline in laid:
        windows.setdefault(placed.metal, []).extend(outline.interiors)
    found = 0
    for placed, outline in laid:
        spot = outline.representative_point()
        found += any(
            type(outline)(ring).contains(spot)
            for ring in windows[placed.metal]
            if ring.bounds[0] <= spot.x <= ring.bounds[2]
        )
    return found


def placed_with(job: Job, plan: Plan, shares: Sequence[PlanProject]) -> dict[str, Any]:
    """The rules by which a plan was placed, from its own job and the metal that it uses."""
    used = {placed.metal for placed in plan.placements}
    blades = sorted(
        {
            share.project.brief.blade
            for share in shares
            if abs(float(share.project.brief.kerf_mm) - job.kerf_mm) < 1e-9
        }
    )
    return {
        "blades": ", ".join(blades),
        "kerf_mm": job.kerf_mm,
        "hands": job.hands,
        "offcut_mm": job.offcut_min_width_mm,
        "offcut_mm2": job.offcut_min_area_mm2,
        "edge_mm": job.edge_gap_mm,
        "rough": any(edges_of(job.stock_by_id[code]) is not Edges.CLEAN for code in used),
        "grained": any(wanted.grain_deg is not None for wanted in job.pieces),
        "mirrored": any(wanted.may_mirror for wanted in job.pieces),
    }


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the comparison; `better` is 0 for the first plan, 1 for the second, or None."""

    label: str
    kind: str  # a partial in studio/plans/figures shows the values: mm, mm2, money, count, size
    values: tuple[Any, Any]
    better: int | None

    @property
    def template(self) -> str:
        return f"studio/plans/figures/{self.kind}.html"


def compared(plans: tuple[CutPlan, CutPlan], answers: tuple[Plan, Plan]) -> list[Figure]:
    """Two answers to the same job, figure by figure."""
    one, other = (answer.measures for answer in answers)
    totals = planned_total(plans[0]), planned_total(plans[1])
    placed = len(answers[0].placements), len(answers[1].placements)
    whole = placed[0] == placed[1]
    sizes = one.largest_rectangle_mm, other.largest_rectangle_mm
    areas = sizes[0][0] * sizes[0][1], sizes[1][0] * sizes[1][1]
    metals = _stock_pieces(answers[0]), _stock_pieces(answers[1])
    return [
        Figure("Pieces with a place", "count", placed, _better(*placed, more=True)),
        *([Figure("Price", "money", totals, _better(*totals, more=False))] if all(totals) else []),
        Figure("Stock pieces used", "count", metals, _better(*metals, more=False)),
        Figure(
            "Used up: pieces and waste",
            "mm2",
            (one.consumed_mm2, other.consumed_mm2),
            _better(one.consumed_mm2, other.consumed_mm2, more=False) if whole else None,
        ),
        Figure(
            "Back to the rack",
            "mm2",
            (one.kept_mm2, other.kept_mm2),
            _better(one.kept_mm2, other.kept_mm2, more=True) if whole else None,
        ),
        Figure("Largest rectangle whole", "size", sizes, _better(*areas, more=True)),
        Figure(
            "To saw",
            "mm",
            (one.saw_line_mm, other.saw_line_mm),
            _better(one.saw_line_mm, other.saw_line_mm, more=False) if whole else None,
        ),
        Figure(
            "Shared lines",
            "mm",
            (one.shared_line_mm, other.shared_line_mm),
            _better(one.shared_line_mm, other.shared_line_mm, more=True),
        ),
        Figure(
            "Free edges",
            "mm",
            (one.free_edge_mm, other.free_edge_mm),
            _better(one.free_edge_mm, other.free_edge_mm, more=True),
        ),
    ]


def _stock_pieces(answer: Plan) -> int:
    return len({placed.metal for placed in answer.placements})


def weighed(answers: tuple[Plan, Plan]) -> int | None:
    """Which plan is better when metal, offcuts, scrap and sawing are weighed together."""
    left = tuple(len(answer.unplaced) for answer in answers)
    if left[0] != left[1]:
        return 0 if left[0] < left[1] else 1
    return _better(answers[0].measures.cost, answers[1].measures.cost, more=False)


def _better(one: float | Decimal, other: float | Decimal, *, more: bool) -> int | None:
    """0 or 1, or None where the two are as good as equal."""
    a, b = float(one), float(other)
    if abs(a - b) <= 1e-3 * max(abs(a), abs(b)):
        return None
    return 0 if (a > b) == more else 1
