"""Why was metal lost, and did the plans keep what they promised? Of closed plans.

Waste is kerf and scrap. Scrap is split by what it would have been: an offcut that the plan
left and that was not kept, pieces of projects that were given up, and the rest, which was too
small between the pieces from the start. The parts add up to the waste.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.db.models.fields.json import KeyTransform
from django.utils import timezone

from classroom.figures.rounding import share_of_area
from inventory.models import Metal
from studio.models import CutPlan
from studio.steps.rack.returned_areas import corrected, resized_offcuts

WORDS = {
    "kerf": (
        "kerf",
        "Let pieces share saw lines, and saw with the finest blade that suits the metal.",
    ),
    "between": (
        "scrap between the pieces",
        "Place more projects on one stock piece, and begin with small offcuts.",
    ),
    "not_kept": (
        "offcuts that were not kept",
        "Bring back what the plan leaves, or ask for larger offcuts in the brief.",
    ),
    "given_up": (
        "projects that were given up",
        "Saw late starters on a plan of their own, so that their metal stays whole.",
    ),
}
"""For each cause its name, and what would make less of it."""
MOST_CAUSES = 3
LEAST_SHARE = 0.005
"""Less than that is rounding, not a cause."""


@dataclass(frozen=True, slots=True)
class Yield:
    """One closed plan: areas in mm² as planned and as they were."""

    plan_pk: int
    metal: Metal
    closed_on: dt.date
    planned_pieces: float
    planned_used: float
    pieces: float
    used: float
    waste: dict[str, float]

    @property
    def planned_share(self) -> float | None:
        return share_of_area(self.planned_pieces, self.planned_used)

    @property
    def share(self) -> float | None:
        return share_of_area(self.pieces, self.used)


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of waste with its mass in g and its share of all waste."""

    words: str
    advice: str
    mass_g: float
    share: float


def yields_of(plans: QuerySet[CutPlan]) -> list[Yield]:
    """Closed plans with yield as planned and as it was, newest first; three queries.

    What was added to a plan's metal is in its return, so it counts as planned with it.
    """
    rows = (
        plans.filter(state=CutPlan.State.CLOSED)
        .select_related("metal")
        .defer("job", "answer")
        .annotate(
            figures=KeyTransform("measures", "answer"),
            area=KeyTransform("area_mm2", "metal_return__balance"),
        )
        .order_by("-closed_at", "-pk")
    )
    resized = resized_offcuts(plan.pk for plan in rows)
    figures = _with_additions(plans)
    return [
        _yield(
            plan,
            figures.get(plan.pk) or plan.figures or {},
            corrected(plan.area, resized.get(plan.pk)),
        )
        for plan in rows
        if plan.area and plan.closed_at is not None
    ]


def _with_additions(plans: QuerySet[CutPlan]) -> dict[int, dict[str, float]]:
    """The figures of all that lay on the metal in the end, by the plan that was added to."""
    added = plans.filter(state=CutPlan.State.CLOSED).exclude(adds_to=None)
    rows = added.annotate(figures=KeyTransform("measures", "answer")).order_by("issued_at", "pk")
    return dict(rows.values_list("adds_to_id", "figures"))


def _yield(plan: CutPlan, figures: dict[str, float], area: dict[str, float]) -> Yield:
    pieces, used = area["pieces"], area["out"] - area["offcuts"]
    planned = figures.get("piece_area_mm2", 0.0)
    not_kept = min(area["scrap"], max(0.0, figures.get("kept_mm2", 0.0) - area["offcuts"]))
    given_up = min(area["scrap"] - not_kept, max(0.0, planned - pieces))
    assert plan.closed_at is not None
    return Yield(
        plan.pk,
        plan.metal,
        timezone.localdate(plan.closed_at),
        planned,
        figures.get("consumed_mm2", 0.0),
        pieces,
        used,
        {
            "kerf": area["kerf"],
            "between": area["scrap"] - not_kept - given_up,
            "not_kept": not_kept,
            "given_up": given_up,
        },
    )


def largest_causes(yields: Iterable[Yield]) -> list[Cause]:
    """At most three causes of waste, the largest first, by mass."""
    grams = dict.fromkeys(WORDS, 0.0)
    for one in yields:
        for name, area in one.waste.items():
            grams[name] += one.metal.mass_g(max(area, 0.0))
    whole = sum(grams.values())
    if not whole:
        return []
    order = sorted(grams, key=lambda name: -grams[name])[:MOST_CAUSES]
    return [
        Cause(*WORDS[name], grams[name], grams[name] / whole)
        for name in order
        if grams[name] >= LEAST_SHARE * whole
    ]


def together(yields: Iterable[Yield]) -> tuple[float | None, float | None]:
    """Yield as planned and as it was, of all the plans together."""
    rows = list(yields)
    return (
        share_of_area(
            sum(one.planned_pieces for one in rows), sum(one.planned_used for one in rows)
        ),
        share_of_area(sum(one.pieces for one in rows), sum(one.used for one in rows)),
    )
