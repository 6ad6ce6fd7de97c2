"""Offcuts as they go back to the rack: with the corners that the metal really has.

The judge measures what a plan keeps by rolling a disc through the leftover, so its offcuts have
round corners where the sheet's are square. Cut from the leftover itself, an offcut keeps its
corners; what hangs on it as a finger too narrow to use stays scrap as before.

Whatever tells a price or what is left (plans, first cut plans, the layout table) tells it of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, joined, united, without
from studio.core.cutting.job import Cut, Job, Measures, Offcut, Placement, Plan, Stock
from studio.core.verifying import Ground, grounds
from studio.core.verifying.kept import Kept
from studio.core.verifying.measures import (
    leftover_of,
    offcut_radius_mm,
    on_grid,
    polygons_of,
    rectangle_in,
)

_SHARPEST = 2.0
"""Mitre limit: corners down to 60 degrees come back whole, sharper ones are cut off."""
_SIMPLIFY_MM = 0.01
_LEAST_GAIN_MM2 = 1e-3
_BESIDE_MM = 5.0 * _SIMPLIFY_MM
"""What is further from an area is not met by it, however its outline is made simpler."""


def with_rack_offcuts(job: Job, plan: Plan) -> Plan:
    """The plan with the offcuts that the rack gets, and its areas told accordingly.

    Placements, saw lines and the cost by which plans are compared stay as the judge found them.
    """
    measures, offcuts = on_the_rack(
        job, plan.placements, plan.measures, plan.offcuts, cuts=plan.cuts
    )
    return replace(plan, offcuts=offcuts, measures=measures)


def on_the_rack(
    job: Job,
    placements: Sequence[Placement],
    measures: Measures,
    judged: Sequence[Offcut],
    kept: Kept | None = None,
    cuts: Sequence[Cut] = (),
) -> tuple[Measures, tuple[Offcut, ...]]:
    """What the judge has measured of these placements, told of the offcuts that the rack gets.

    `kept` is what the judge keeps in mind, where it has just judged them; `cuts` are those that
    part the metal.
    """
    known = kept or Kept()
    offcuts = rack_offcuts(job, placements, judged, known, cuts)
    gained = sum(o.outline.area for o in offcuts) - sum(o.outline.area for o in judged)
    widest = max(
        (rectangle_in(offcut.outline, known) for offcut in offcuts),
        key=lambda rectangle: rectangle.area_mm2,
        default=None,
    )
    told = replace(
        measures,
        largest_rectangle_mm=(widest.longer_mm, widest.shorter_mm) if widest else (0.0, 0.0),
        kept_mm2=measures.kept_mm2 + gained,
        consumed_mm2=measures.consumed_mm2 - gained,
        scrap_mm2=measures.scrap_mm2 - gained,
        largest_offcut_mm2=max((o.outline.area for o in offcuts), default=0.0),
    )
    return told, offcuts


def rack_offcuts(
    job: Job,
    placements: Sequence[Placement],
    offcuts: Sequence[Offcut],
    kept: Kept | None = None,
    cuts: Sequence[Cut] = (),
) -> tuple[Offcut, ...]:
    """The same offcuts, each grown into the corners that the disc could not reach, within its own
    part where metal is parted.

    A part that carries no pieces goes back as the cuts leave it, fingers and all: its offcuts are
    its connected parts in which the judge found any.
    """
    known = kept or Kept()
    grown: dict[int, Offcut] = {}
    for ground in grounds(job, placements, cuts, known):
        numbers = [n for n, o in enumerate(offcuts) if _comes_of(ground, o)]
        if not ground.pieces:
            grown |= _whole(ground, numbers, offcuts)
            continue
        outlines = tuple(offcuts[n].outline for n in numbers)
        own = ground.pieces
        key = ("on the rack", ground.metal.id, *own, *(outline.wkb for outline in outlines))
        make = partial(_all_grown, job, ground.metal, own, outlines, known)
        for n, outline in zip(numbers, known.get(key, make), strict=True):
            grown[n] = replace(offcuts[n], outline=outline)
    return tuple(grown[n] for n in sorted(grown))


def _comes_of(ground: Ground, offcut: Offcut) -> bool:
    if offcut.metal != ground.code:
        return False
    inside = offcut.outline.representative_point()
    return ground.part == 0 or bool(ground.metal.outline.intersects(inside))


def _whole(ground: Ground, numbers: Sequence[int], offcuts: Sequence[Offcut]) -> dict[int, Offcut]:
    """The connected parts of a leftover, each in place of the offcuts that lie in it."""
    found: dict[int, Offcut] = {}
    for polygon in ground.metal.parts:
        inside = [n for n in numbers if _lies_in(offcuts[n].outline, [polygon])]
        if inside:
            worth = sum(offcuts[n].worth for n in inside)
            found[inside[0]] = Offcut(ground.code, on_grid(polygon), worth)
    return found


def _all_grown(
    job: Job,
    metal: Stock,
    own: Sequence[Placement],
    outlines: Sequence[Polygon],
    kept: Kept,
) -> tuple[Polygon, ...]:
    """The offcuts of one stock piece, none over another: what one has got the next cannot have."""
    if not outlines:
        return ()
    left = leftover_of(job, metal, own, kept)
    grown: list[Polygon] = []
    for number, outline in enumerate(outlines):
        others = [*outlines[number + 1 :], *grown]
        # A disc that passes through one offcut meets no other.
        middles = [one for one in polygons_of(left.middles) if not _lies_in(one, others)]
        cornered = MultiPolygon(middles).buffer(
            offcut_radius_mm(job), join_style="mitre", mitre_limit=_SHARPEST
        )
        reached = MultiPolygon(_that_meet(outline, polygons_of(cornered)))
        free = _beside([*reached.geoms, outline], left.metal, others)
        # most moves leave an offcut and all that lies beside it as they were
        key = ("squared", outline.wkb, reached.wkb, free.wkb)
        grown.append(kept.get(key, partial(_squared, outline, reached, free)))
    return tuple(grown)


def _squared(outline: Polygon, cornered: MultiPolygon, free: BaseGeometry) -> Polygon:
    """`outline` with its corners, as far as they are free; never less than itself."""
    found = joined(common(cornered, free), outline).simplify(_SIMPLIFY_MM)
    inside = [
        p
        for part in _that_meet(outline, polygons_of(found))
        for p in polygons_of(common(part, free))
    ]
    best = inside[0] if len(inside) == 1 else _most_of(outline, inside)
    # Grown once it is grown for good: asked again, the very same outline comes back.
    return on_grid(best) if best.area > outline.area + _LEAST_GAIN_MM2 else outline


def _lies_in(one: Polygon, areas: Sequence[Polygon]) -> bool:
    spot = one.representative_point()
    return any(area.intersects(spot) for area in areas)


def _most_of(outline: Polygon, parts: Sequence[Polygon]) -> Polygon:
    return max(parts, key=lambda part: part.intersection(outline).area, default=outline)


def _that_meet(outline: Polygon, parts: Sequence[Polygon]) -> list[Polygon]:
    shapely.prepare(outline)
    met = shapely.intersects(outline, parts).tolist()
    return [part for part, meets in zip(parts, met, strict=True) if meets]


def _beside(
    areas: Sequence[Polygon], metal: BaseGeometry, others: Sequence[Polygon]
) -> BaseGeometry:
    """Metal as it is wherever these areas are, without other offcuts that come near them, in the
    part in which the last of the areas lies.

    Holes that come near none of them are filled: most pieces lie among others, far from any
    offcut, and every corner costs time. So do the needles that other offcuts leave along their
    rims when they are taken away.
    """
    inside = areas[-1].representative_point()
    shapely.prepare(areas)
    found = []
    for part in _holding(inside, metal):
        rings = list(part.interiors)
        near = _are_near(areas, [Polygon(ring) for ring in rings])
        kept = [ring for ring, is_near in zip(rings, near, strict=True) if is_near]
        found.append(Polygon(part.exterior, kept))
    near = _are_near(areas, others)
    taken = [one for one, is_near in zip(others, near, strict=True) if is_near]
    if not taken:
        return MultiPolygon(found)
    return MultiPolygon(_holding(inside, without(MultiPolygon(found), united(taken))))


def _holding(spot: Point, metal: BaseGeometry) -> list[Polygon]:
    parts = polygons_of(metal)
    return [part for part in parts if part.intersects(spot)] or parts


def _are_near(areas: Sequence[Polygon], each: Sequence[Polygon]) -> list[bool]:
    near = [shapely.dwithin(area, each, _BESIDE_MM) for area in areas]
    found: list[bool] = np.any(near, axis=0).tolist()
    return found
