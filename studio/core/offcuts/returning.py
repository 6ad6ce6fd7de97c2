"""What comes back from the bench, and does the area add up?

For every stock piece: area out = pieces + offcuts + saw cuts + scrap. The saw cuts are one kerf
wide and go around the pieces that were made; the offcuts are those that the plan leaves; the
scrap is all the rest. Pieces of projects that were given up count as metal again, so the
offcuts are worked out anew around what was really made.

Pure: millimetres, mm², grams.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.areas import common, united
from studio.core.cutting import Job, Placement, Plan, Stock
from studio.core.verifying import measure

from .rack_offcuts import rack_offcuts
from .saw_cuts import saw_cuts_mm2

FIT_MM = 0.5
"""A rectangle measured by hand may stick out of the planned offcut by so much."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """An offcut that may come back: `key` names it on the form, `whole` means never sawn."""

    key: str
    stock: str
    outline: Polygon | MultiPolygon
    whole: bool = False

    @property
    def area_mm2(self) -> float:
        return float(self.outline.area)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Sides of the upright box around it."""
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0


@dataclass(frozen=True, slots=True)
class StockOut:
    """One stock piece as the bench leaves it; areas in mm², pieces by their project's group.

    `made` are the pieces as they lie, `unmade` those of projects that were given up.
    """

    code: str
    outline: Polygon | MultiPolygon
    made: Mapping[str, tuple[Polygon, ...]]
    unmade: Mapping[str, tuple[Polygon, ...]]
    kerf_mm2: float
    leaves: tuple[Leaf, ...]

    @property
    def area_mm2(self) -> float:
        return float(self.outline.area)

    @property
    def pieces_mm2(self) -> float:
        return sum(piece.area for pieces in self.made.values() for piece in pieces)


class ReturnError(ValueError):
    """A return that cannot be; the message says why, for the person at the form."""


def what_comes_back(
    job: Job,
    plan: Plan,
    codes: Sequence[str],
    *,
    given_up: Collection[str] = (),
    left_out: Collection[str] = (),
) -> tuple[StockOut, ...]:
    """For each stock piece (by label code) what lies on it and which offcuts it leaves.

    `given_up` names the groups of projects that were not made, `left_out` those that were left
    out of the plan at the bench: of these nothing lies there, and nobody pays for them.
    """
    return tuple(_stock_out(job, plan, job.stock_by_id[code], given_up, left_out) for code in codes)


def _stock_out(
    job: Job,
    plan: Plan,
    metal: Stock,
    given_up: Collection[str],
    left_out: Collection[str],
) -> StockOut:
    made: dict[str, tuple[Polygon, ...]] = {}
    unmade: dict[str, tuple[Polygon, ...]] = {}
    done: list[Placement] = []
    as_metal = False  # whether something planned there is metal again
    for placement in plan.placements:
        if placement.metal != metal.id:
            continue
        wanted = job.wanted_by_id[placement.piece]
        group = wanted.group or wanted.id
        as_metal = as_metal or group in given_up or group in left_out
        if group in left_out:
            continue
        if group not in given_up:
            done.append(placement)
        into = unmade if group in given_up else made
        into[group] = (*into.get(group, ()), placement.lay(wanted.outline))
    offcuts = plan.offcuts
    if done and as_metal:
        offcuts = rack_offcuts(job, done, measure(job, done)[1])
    leaves = [
        Leaf(f"{metal.id}/{number}", metal.id, offcut.outline)
        for number, offcut in enumerate((one for one in offcuts if one.metal == metal.id), start=1)
    ]
    if not done:
        leaves = [Leaf(f"{metal.id}/0", metal.id, metal.outline, whole=True)]
    kerf = saw_cuts_mm2(job, metal, done)
    return StockOut(metal.id, metal.outline, made, unmade, kerf, tuple(leaves))


def smaller(leaf: Leaf, width_mm: float, height_mm: float) -> Polygon:
    """The rectangle that really came back of an offcut.

    Raises ReturnError when it cannot have come out of the offcut: larger, longer or wider.
    """
    if not (math.isfinite(width_mm) and math.isfinite(height_mm)) or min(width_mm, height_mm) <= 0:
        raise ReturnError("Give width and height of what came back, both above 0.")
    across = _sides(leaf.outline)
    own = sorted((width_mm, height_mm), reverse=True)
    diagonal = math.hypot(*across)
    if own[0] > diagonal + FIT_MM or own[1] > across[1] + FIT_MM:
        raise ReturnError(
            "The plan leaves a smaller piece here, as the picture shows: a larger one cannot have "
            "come back. Measure again."
        )
    if width_mm * height_mm > leaf.area_mm2:
        raise ReturnError(
            "That rectangle is more metal than the plan leaves here. Measure again, or keep the "
            "piece as the plan leaves it."
        )
    return box(0.0, 0.0, width_mm, height_mm)


def _sides(shape: Polygon | MultiPolygon) -> tuple[float, float]:
    """Sides of the tightest box at any turn, longer first."""
    corners = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    one, other = math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])
    return max(one, other), min(one, other)


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the area of one stock piece (or of all together) went, in mm²."""

    out: float
    pieces: float
    offcuts: float
    kerf: float
    scrap: float

    @property
    def unexplained(self) -> float:
        """Nothing but rounding, or the balance is wrong."""
        return self.out - self.pieces - self.offcuts - self.kerf - self.scrap


def balance(out: StockOut, kept: Sequence[Polygon | MultiPolygon]) -> Balance:
    """The balance of one stock piece when these outlines went back to the rack.

    Raises ReturnError when more would come back than the saw left.
    """
    offcuts = sum(outline.area for outline in kept)
    scrap = out.area_mm2 - out.pieces_mm2 - out.kerf_mm2 - offcuts
    if scrap < -1.0:
        raise ReturnError(
            f"More would go back to the rack than {out.code} has left. Check the sizes."
        )
    return Balance(out.area_mm2, out.pieces_mm2, offcuts, out.kerf_mm2, max(scrap, 0.0))


def used_by(out: StockOut, kept: Mapping[str, Polygon | MultiPolygon]) -> dict[str, float]:
    """Area in mm² that each project's pieces take from the stock piece, by group.

    A project that was given up pays for the metal under its pieces only as far as that did not
    come back; where an offcut came back smaller, it is covered in the same proportion.
    """
    areas = {group: sum(piece.area for piece in pieces) for group, pieces in out.made.items()}
    leaves = {leaf.key: leaf for leaf in out.leaves}
    for group, pieces in out.unmade.items():
        own = united(pieces)
        saved = 0.0
        for key, outline in kept.items():
            leaf = leaves[key]
            saved += common(own, leaf.outline).area * outline.area / leaf.area_mm2
        areas[group] = max(float(own.area) - saved, 0.0)
    return areas


def total(balances: Sequence[Balance]) -> Balance:
    return Balance(
        *(
            sum(getattr(one, name) for one in balances)
            for name in ("out", "pieces", "offcuts", "kerf", "scrap")
        )
    )
