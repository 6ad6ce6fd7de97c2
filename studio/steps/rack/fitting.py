"""On which stock pieces of the rack does a pattern fit? The engine answers, best offcut first.

Reads only. Each stock piece is offered to the engine alone, for a moment: what it lays passes
the judge, so "fits" is certain. "No room found" is not a proof that there is none.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from shapely.geometry import Polygon

from classroom.models import User
from classroom.papers.turns import IN_THE_WEB
from classroom.refusals import Refused
from inventory.models import Metal, StockPiece
from inventory.queries import stock_for
from studio.core.cutting.job import to_wkt
from studio.core.placing import place
from studio.models import Brief
from studio.steps.plans.asking import (
    MOST_PIECES,
    as_metal,
    by_hand,
    saw_cost_per_mm,
    sides_of,
    usable,
)
from studio.steps.plans.placing_settings import Apart, rules_for

MOST_TRIED: Final = 24
"""Stock pieces that the engine is asked about, the smallest that may hold the pattern first."""
SECONDS_EACH: Final = 0.4
SECONDS_IN_ALL: Final = 4.0


@dataclass(frozen=True, slots=True)
class Fit:
    """A stock piece that holds everything wanted, with the pieces as they would lie on it."""

    stock: StockPiece
    laid: tuple[Polygon, ...]

    @property
    def covered(self) -> float:
        """Share of the stock piece that the pieces would cover."""
        return sum(piece.area for piece in self.laid) / float(self.stock.area_mm2)


@dataclass(frozen=True, slots=True)
class Answer:
    """Stock pieces that fit (best first), those where no room was found, and what was not tried.

    `too_small` counts those that are smaller than the pattern and were not asked about.
    """

    fits: tuple[Fit, ...]
    no_room: tuple[StockPiece, ...]
    too_small: int
    not_tried: int


def where_it_fits(
    wanted: Sequence[tuple[Polygon, int]], metal: Metal, *, acting: User, brief: Brief | None = None
) -> Answer:
    """Where these outlines (each so many times) fit together on one stock piece of the metal.

    They lie as far apart as the brief asks; without one only rough edges are kept clear of.

    Offcuts come before sheets and small ones before large ones: that is the order in which a
    rack should be used up. Bounded in pieces and in seconds, and done by turns. Raises Refused
    for a pattern that the engine cannot take, and Busy where too many wait for their turn.
    """
    with IN_THE_WEB.turn(acting.pk):
        return _asked(wanted, metal, acting=acting, brief=brief)


def _asked(
    wanted: Sequence[tuple[Polygon, int]], metal: Metal, *, acting: User, brief: Brief | None
) -> Answer:
    if sum(count for _, count in wanted) > MOST_PIECES:
        raise Refused(f"That is more than {MOST_PIECES} pieces: no one plan may hold so many.")
    area = sum(outline.area * count for outline, count in wanted)
    sides = [sides_of(outline) for outline, _ in wanted]
    rack = stock_for(acting).on_the_rack().of(metal).order_by("kind", "area_mm2", "pk")
    offcuts_first = sorted(rack, key=lambda one: one.kind != StockPiece.Kind.OFFCUT)
    large = [one for one in offcuts_first if float(one.area_mm2) >= area and _holds(one, sides)]
    rules = rules_for(acting.school, brief.course if brief else None)
    apart = rules.apart([brief]) if brief else Apart(0.0, 0.0, 0.0)
    terms = by_hand(apart, rules) | {"saw_cost_per_mm": saw_cost_per_mm(acting.school, rules)}
    fits: list[Fit] = []
    no_room: list[StockPiece] = []
    end = time.monotonic() + SECONDS_IN_ALL
    tried = 0
    for stock in large[:MOST_TRIED]:
        if time.monotonic() >= end:
            break
        tried += 1
        laid = _laid(wanted, stock, terms)
        if laid:
            fits.append(Fit(stock, laid))
        else:
            no_room.append(stock)
    return Answer(tuple(fits), tuple(no_room), len(offcuts_first) - len(large), len(large) - tried)


def _holds(stock: StockPiece, sides: Sequence[tuple[float, float]]) -> bool:
    """Whether the box around a stock piece is long and wide enough for each outline."""
    longer, shorter = sides_of(stock.polygon)
    diagonal = math.hypot(longer, shorter)
    return all(one[1] <= shorter + 1e-6 and one[0] <= diagonal + 1e-6 for one in sides)


def _laid(
    wanted: Sequence[tuple[Polygon, int]], stock: StockPiece, terms: Mapping[str, Any]
) -> tuple[Polygon, ...]:
    """All pieces as they lie on the stock piece; nothing where not all found room."""
    job = usable(
        {
            **terms,
            "metal": [as_metal(stock, float(stock.price_per_mm2))],
            "pieces": [
                {"id": str(number), "outline": to_wkt(outline), "count": count}
                for number, (outline, count) in enumerate(wanted)
            ],
            "goal": "plan",
        }
    )
    plan = place(job, seconds=SECONDS_EACH, rounds=0)
    if plan.unplaced:
        return ()
    return tuple(one.lay(job.wanted_by_id[one.piece].outline) for one in plan.placements)
