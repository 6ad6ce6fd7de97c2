"""How much metal do the open briefs still need, and what has to be bought for it? Reads only.

For each metal: projects still to be placed, times the average area of a pattern, divided by the
yield that this school really reaches, less what lies free on the rack. Counted for the whole
school, because the rack is the school's.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.db.models import Count, Q

from classroom.models import School
from inventory.models import Metal, MetalPrice, StockPiece
from studio.models import Brief, CutPlan, Pattern, Project, Return
from studio.steps.rack.returned_areas import corrected, resized_offcuts

USUAL_YIELD: Final = 0.70
"""Share of the used-up metal that ends in pieces, until plans have been closed here. Novice
patterns lose 15 to 35 %: common practice, no source."""
USUAL_PATTERN: Final = 0.5
"""Share of the largest box a brief allows that a pattern fills, until patterns are there:
common practice, no source."""
PLACED: Final = (
    Project.Stage.PLANNED,
    Project.Stage.AT_BENCH,
    Project.Stage.MADE,
    Project.Stage.CLOSED,
)
LEAST_PLANS: Final = 1
MM2_PER_CM2: Final = 100


@dataclass(slots=True)
class Need:
    """What one metal is needed for, and what is to buy of it. Areas in mm²."""

    metal: Metal
    projects: float = 0.0
    patterns_mm2: float = 0.0
    share: float = USUAL_YIELD
    plans: int = 0
    on_rack_mm2: float = 0.0
    smallest_mm2: float = 0.0
    price: MetalPrice | None = None
    briefs: dict[int, str] = field(default_factory=dict)
    guessed: bool = False

    @property
    def average_mm2(self) -> float:
        return self.patterns_mm2 / self.projects if self.projects else 0.0

    @property
    def whole_projects(self) -> int:
        """Nobody makes half a project: what is counted by shares is said in round numbers."""
        return math.floor(self.projects + 0.5)

    @property
    def is_shared(self) -> bool:
        """Projects without a metal are spread over the brief's metals, so `projects` is a guess."""
        return abs(self.projects - self.whole_projects) > 0.01

    @property
    def needed_mm2(self) -> float:
        """Metal that the projects use up, waste included."""
        return self.patterns_mm2 / self.share

    @property
    def to_buy_mm2(self) -> float:
        return max(0.0, self.needed_mm2 - self.on_rack_mm2)

    @property
    def sheets(self) -> int | None:
        """Sheets of the size last priced; None where no price has been written down."""
        if self.price is None:
            return None
        return math.ceil(self.to_buy_mm2 / float(self.price.width_mm * self.price.height_mm) - 1e-9)

    @property
    def cost(self) -> Decimal | None:
        if self.price is None or self.sheets is None:
            return None
        return (self.price.amount * self.sheets).quantize(Decimal("0.01"), ROUND_HALF_UP)


def order_list(school: School) -> list[Need]:
    """Every metal that an open brief names, in the metals' own order; the queries are fixed."""
    briefs = list(
        Brief.objects.filter(course__school=school, closed_at=None, course__closed_at=None)
        .annotate(
            seats=Count("course__seats", filter=Q(course__seats__left_at=None), distinct=True)
        )
        .prefetch_related("metals")
        .order_by("pk")
    )
    needs = {metal.pk: Need(metal) for brief in briefs for metal in brief.metals.all()}
    projects: dict[int, list[Project]] = defaultdict(list)
    for project in Project.objects.filter(brief__in=briefs, seat__left_at=None):
        projects[project.brief_id].append(project)
    areas = _pattern_areas(briefs)
    for brief in briefs:
        _add(brief, projects[brief.pk], areas.get(brief.pk, []), needs)
    _yields(school, needs)
    _rack(school, needs)
    for price in MetalPrice.objects.in_force().filter(metal__in=needs).order_by("dated", "pk"):
        needs[price.metal_id].price = price  # the newest stays
    found = [need for need in needs.values() if need.projects > 0]
    return sorted(found, key=lambda one: (one.metal.alloy_code, one.metal.thickness_mm))


def total_cost(needs: Iterable[Need]) -> Decimal:
    """What all that can be priced would cost."""
    return sum((need.cost for need in needs if need.cost is not None), Decimal(0))


def _add(brief: Brief, projects: list[Project], areas: list[float], needs: dict[int, Need]) -> None:
    """Share out the brief's projects that are not placed yet among its metals."""
    metals = [metal.pk for metal in brief.metals.all()]
    if not metals:
        return
    placed = sum(1 for one in projects if one.stage in PLACED)
    waiting = [
        one.metal_id for one in projects if one.stage not in PLACED and one.metal_id in needs
    ]
    seats: int = brief.seats  # type: ignore[attr-defined]
    undecided = max(0, seats - placed - len(waiting))
    box = float(brief.max_width_mm * brief.max_height_mm)
    average = sum(areas) / len(areas) if areas else box * USUAL_PATTERN
    for pk in {*metals, *waiting}:
        if pk is None:
            continue
        count = waiting.count(pk) + (undecided / len(metals) if pk in metals else 0.0)
        if count:
            need = needs[pk]
            need.projects += count
            need.patterns_mm2 += count * average
            need.guessed = need.guessed or not areas
            need.briefs[brief.pk] = brief.title
            least = need.smallest_mm2
            need.smallest_mm2 = min(least, average) if least else average


def _pattern_areas(briefs: Sequence[Brief]) -> dict[int, list[float]]:
    """Net area of each project's current pattern, all its copies, by brief."""
    found: dict[int, list[float]] = defaultdict(list)
    patterns = (
        Pattern.objects.filter(project__brief__in=briefs)
        .current()
        .select_related("project")
        .only("drawing_json", "copies", "project__brief_id")
    )
    for pattern in patterns.iterator(chunk_size=100):
        area = sum(piece.area_mm2 for piece in pattern.drawing.pieces) * pattern.copies
        if area > 0:
            found[pattern.project.brief_id].append(area)
    return found


def _yields(school: School, needs: dict[int, Need]) -> None:
    """The yield of the metal's own closed plans, else of all, else the usual one."""
    pieces: dict[int, float] = defaultdict(float)
    used: dict[int, float] = defaultdict(float)
    plans: dict[int, int] = defaultdict(int)
    rows = Return.objects.filter(
        plan__course__school=school, plan__state=CutPlan.State.CLOSED
    ).values_list("plan_id", "plan__metal_id", "balance")
    closed = [(plan, pk, balance["area_mm2"]) for plan, pk, balance in rows]
    resized = resized_offcuts(plan for plan, _, _ in closed)
    for plan, pk, written in closed:
        area = corrected(written, resized.get(plan))
        gone = area["out"] - area["offcuts"]
        if gone <= 0 or area["pieces"] <= 0:
            continue
        for key in (pk, 0):  # 0 stands for all metals together
            pieces[key] += area["pieces"]
            used[key] += gone
            plans[key] += 1
    for need in needs.values():
        key = need.metal.pk if plans[need.metal.pk] >= LEAST_PLANS else 0
        if plans[key]:
            need.share, need.plans = min(1.0, pieces[key] / used[key]), plans[key]


def _rack(school: School, needs: dict[int, Need]) -> None:
    """Free metal in stock pieces that are no smaller than an average pattern."""
    rack = StockPiece.objects.filter(school=school, metal__in=needs).on_the_rack()
    for pk, area in rack.values_list("metal_id", "area_mm2"):
        if area >= needs[pk].smallest_mm2:
            needs[pk].on_rack_mm2 += float(area)
