"""What is the engine asked? Projects with approved patterns, and the metal that the rack offers.

The job has the format of the command-line seam. A piece's id is "<pattern>/<piece>", its group
"project-<pk>"; a stock piece goes by its label code, which is unique in a school.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, Polygon

from classroom.models import School
from classroom.refusals import Refused
from inventory.models import Consumable, Metal, StockPiece
from studio.core.cutting import Job, JobError, job_from_json
from studio.core.cutting.formats import HANDS_VERSION
from studio.core.cutting.groups import group_of as group_of  # jobs are asked for by them
from studio.core.cutting.groups import project_of as project_of
from studio.core.cutting.job import to_wkt
from studio.core.drawing import Piece
from studio.core.verifying.measures import FINGERS_WORTH
from studio.models import CutPlan, Pattern
from studio.steps.bench.tools import tools_of

from .grain import grains_of
from .placing_settings import Apart, PlacingRules, rules_for
from .sharing import parting_fields

MOST_PIECES = 400
"""Pieces in one plan. A class of 24 with a few pieces each stays far below."""

JOB_VERSION = HANDS_VERSION
"""Of the jobs that are written now. Plans of earlier ones keep the rules of theirs."""

OFFCUTS_PER_PIECE = 3
MOST_OFFCUTS = 16
MOST_SHEETS = 8
MOST_LOOKED_AT = 400  # of each kind, smallest first: a rack beyond that has enough that is small
ROOM = 2.0  # sheets offered for so many times the pieces' boxes: placing needs room to choose
SAW_COST_PER_MM = 0.002  # the seam's default, where the school keeps no blades on its list
MM_PER_CM = 10.0


@dataclass(frozen=True, slots=True)
class WantedSize:
    """One outline that is wanted `count` times, by its size."""

    area_mm2: float
    longer_mm: float
    shorter_mm: float
    count: int


def piece_id(pattern: Pattern, piece: Piece) -> str:
    return f"{pattern.pk}/{piece.id}"


def make_job(
    patterns: Sequence[Pattern],
    stock: Sequence[StockPiece],
    school: School,
    *,
    fixed: Sequence[Mapping[str, Any]] = (),
    way: str = "",
) -> dict[str, Any]:
    """The job for these patterns (each with `project.brief` loaded) on these stock pieces.

    `fixed` are placements, as jobs write them, that the server lays round; `way` says whether the
    metal is parted among students, and how.

    Raises Refused, in words, where a pattern is beyond what the engine takes.
    """
    briefs = [pattern.project.brief for pattern in patterns]
    rules = rules_for(school, briefs[0].course)
    grains = grains_of(stock, rules.sheet_grain)
    job = by_hand(rules.apart(briefs), rules) | {
        "saw_cost_per_mm": saw_cost_per_mm(school, rules),
        "offcut_min_width_mm": max(float(brief.offcut_min_width_mm) for brief in briefs),
        "offcut_min_area_mm2": float(rules.offcut_min_area_mm2),
        "metal": [
            as_metal(piece, weighed_price(piece)) | {"grain_deg": grains[piece.pk]}
            for piece in stock
        ],
        "pieces": [
            {
                "id": piece_id(pattern, piece),
                "outline": to_wkt(piece.outline),
                "count": pattern.copies,
                "may_mirror": pattern.project.brief.may_mirror,
                "group": group_of(pattern.project_id),
                "grain_deg": pattern.project.brief.grain_deg,
            }
            for pattern in patterns
            for piece in pattern.drawing.pieces
        ],
        "goal": "plan",
    }
    if way in (CutPlan.Way.PARTED, CutPlan.Way.SAWN):
        job |= parting_fields(way, rules, tools_of(school))
    if fixed:
        job["fixed"] = list(fixed)
    usable(job)
    return job


def by_hand(apart: Apart, rules: PlacingRules) -> dict[str, Any]:
    """What a job says of saw, hand and edges, with the version that says it."""
    return {
        "version": JOB_VERSION,
        "kerf_mm": apart.kerf_mm,
        "gap_mm": apart.gap_mm,
        "shared_mm": apart.shared_mm,
        "straight_min_mm": float(rules.straight_min_mm),
        "edge_margin_mm": float(rules.edge_margin_mm),
        "worth": "two",
    }


def as_metal(piece: StockPiece, price_per_mm2: float) -> dict[str, Any]:
    """A stock piece as a job offers it."""
    rough = {"rough_edges": piece.rough_edges} if piece.rough_edges else {}
    return rough | {
        "id": piece.code,
        "outline": to_wkt(piece.polygon),
        "price_per_mm2": price_per_mm2,
        "clean_edges": piece.clean_edges,
    }


def weighed_price(piece: StockPiece) -> float:
    """What a square millimetre counts for in the search; quotes are made from true costs.

    Full sheets count in full and offcuts as the engine values broken-up metal, so that a sheet
    is opened only where that saves much: the big useful piece is to stay whole.
    """
    price = float(piece.price_per_mm2)
    return price * FINGERS_WORTH if piece.kind == StockPiece.Kind.OFFCUT else price


def usable(data: dict[str, Any]) -> Job:
    """The engine's own reading of a job; its refusal in the house's form."""
    try:
        return job_from_json(data)
    except JobError as wrong:
        raise Refused(f"These pieces cannot be placed as they are ({wrong}).") from None


def saw_cost_per_mm(school: School, rules: PlacingRules) -> float:
    """What a millimetre of sawing counts for: blades by the school's own list, and its worth."""
    rates = [
        blade.cost_per_use
        for blade in Consumable.objects.filter(
            school=school, per=Consumable.Per.CM_SAWN, retired_at=None
        )
    ]
    blades = float(sum(rates)) / MM_PER_CM if rates else SAW_COST_PER_MM
    return blades + float(rules.saw_worth_per_cm) / MM_PER_CM


def wanted_of(patterns: Sequence[Pattern]) -> list[WantedSize]:
    """All outlines of the patterns, the largest first. Raises Refused when there are too many."""
    found = []
    for pattern in patterns:
        for piece in pattern.drawing.pieces:
            longer, shorter = sides_of(piece.outline)
            found.append(WantedSize(piece.area_mm2, longer, shorter, pattern.copies))
    total = sum(one.count for one in found)
    if not total:
        raise Refused("There is no piece in these patterns that could be placed.")
    if total > MOST_PIECES:
        raise Refused(
            f"That would be {total} pieces in one plan; {MOST_PIECES} is the most. "
            "Choose fewer projects and make several plans."
        )
    return sorted(found, key=lambda one: -one.area_mm2)


def choose_stock(
    metal: Metal,
    wanted: Sequence[WantedSize],
    *,
    gap_mm: float = 0.3,
    margin_mm: float = 0.0,
    grain_rule: str = "",
    beside: Sequence[StockPiece] = (),
) -> list[StockPiece]:
    """Stock pieces worth offering to the engine: the smallest offcuts that hold what is wanted,
    then sheets, smallest first, with room to choose. Their number is bounded.

    `gap_mm` is the room between two pieces, `margin_mm` that along edges that are not clean.
    With a `grain_rule` only those whose grain is known. Stock pieces `beside` are offered anyhow,
    as somebody's layout lies on them: they are among what is answered, and no room is counted on
    them. Raises Refused when the rack has none of the metal, or none whose grain is known.
    """
    rack = StockPiece.objects.on_the_rack().of(metal).order_by("area_mm2", "pk")
    rack = rack.exclude(pk__in=[piece.pk for piece in beside])
    if beside and not (wanted and rack.exists()):
        return list(beside)
    least = wanted[-1].area_mm2
    small = rack.filter(kind=StockPiece.Kind.OFFCUT, area_mm2__gte=least)[:MOST_LOOKED_AT]
    large = rack.filter(kind=StockPiece.Kind.SHEET)[:MOST_LOOKED_AT]
    if grain_rule:
        known = grains_of([*small, *large], grain_rule)
        if rack.exists() and not any(grain is not None for grain in known.values()):
            raise Refused(
                f"These pieces follow the grain, and nobody knows it of any {metal} on the rack. "
                "Say how it runs in your sheets (How pieces are placed), or receive a sheet."
            )
        offcuts, sheets = (
            _sized((piece for piece in some if known[piece.pk] is not None), margin_mm)
            for some in (small, large)
        )
    else:
        offcuts, sheets = _sized(small, margin_mm), _sized(large, margin_mm)
    if not offcuts and not sheets and not rack.exists():
        raise Refused(
            f"There is no {metal} on the rack. Receive some first, or free what is reserved."
        )
    chosen: dict[int, StockPiece] = {}
    boxes = sum(one.count * (one.longer_mm + gap_mm) * (one.shorter_mm + gap_mm) for one in wanted)
    whole = [p for p, sides in offcuts if float(p.area_mm2) >= boxes and _holds(sides, wanted[:1])]
    for piece in whole[:2]:
        chosen[piece.pk] = piece
    for one in wanted:
        fitting = [p for p, sides in offcuts if _holds(sides, [one]) and _roomy(p, one)]
        for piece in fitting[:OFFCUTS_PER_PIECE]:
            if len(chosen) < MOST_OFFCUTS:
                chosen[piece.pk] = piece
    room = 0.0
    for piece, sides in sheets:
        if len(chosen) >= MOST_OFFCUTS + MOST_SHEETS or room >= ROOM * boxes:
            break
        if _holds(sides, wanted[-1:]):
            chosen[piece.pk] = piece
            room += float(piece.area_mm2)
    _add_for_the_largest(chosen, sheets, wanted)
    # Where nothing fits at all, the engine shall say so piece by piece.
    if not chosen:
        return [*beside, *rack.reverse()[:2]]
    return sorted([*beside, *chosen.values()], key=lambda p: (p.kind, p.area_mm2, p.pk))


Sized = tuple[StockPiece, tuple[float, float]]


def _sized(pieces: Iterable[StockPiece], margin_mm: float) -> list[Sized]:
    """Each with the sides of the box in which pieces may lie."""
    sized = []
    for piece in pieces:
        spared = 0.0 if piece.clean_edges else 2.0 * margin_mm
        longer, shorter = sides_of(piece.polygon)
        sized.append((piece, (max(longer - spared, 0.0), max(shorter - spared, 0.0))))
    return sized


def _add_for_the_largest(
    chosen: dict[int, StockPiece],
    sheets: Iterable[Sized],
    wanted: Sequence[WantedSize],
) -> None:
    """Small sheets come first; one that holds the largest piece must be among them."""
    large = [piece for piece, sides in sheets if _holds(sides, wanted[:1])]
    if large and not any(piece.pk in chosen for piece in large):
        chosen[large[0].pk] = large[0]


def sides_of(shape: Polygon | MultiPolygon) -> tuple[float, float]:
    """Sides of the tightest box at any turn, longer first; of the largest part of several."""
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    box = max(parts, key=lambda part: part.area).minimum_rotated_rectangle
    corners = shapely.get_coordinates(box)
    if len(corners) < 4:
        return 0.0, 0.0
    one, other = math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])
    return max(one, other), min(one, other)


def _holds(sides: tuple[float, float], wanted: Sequence[WantedSize]) -> bool:
    """Whether a box is large enough for each outline (a slim piece may also lie across)."""
    diagonal = math.hypot(*sides)
    return all(
        one.shorter_mm <= sides[1] + 1e-6 and one.longer_mm <= diagonal + 1e-6 for one in wanted
    )


def _roomy(piece: StockPiece, one: WantedSize) -> bool:
    return float(piece.area_mm2) >= one.area_mm2
