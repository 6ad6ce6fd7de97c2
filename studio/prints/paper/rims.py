"""How far may the paper reach beyond a piece's line, and where is it trimmed flush?

A pattern is cut out with a small rim, which keeps the line whole under the saw. On the metal the
rims of two neighbours must not lie on each other, and no paper may hang over the metal's edge:
each neighbour has the metal that is nearer to it. Where that leaves less than half a millimetre
(along a shared line, on a free edge) the paper is trimmed flush. Pure; millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, joined, united, without

RIM_MM = 2.0
STEP_MM = 0.25
FLUSH_MM = 0.5
TRIM_LEAST_MM = 3.0
SMOOTH_MM = 0.03


def plain_rim(outline: Polygon) -> Polygon:
    """The rim of a piece that has the paper to itself, as the outline of the paper."""
    return _whole(_shell(outline).buffer(RIM_MM, quad_segs=6).simplify(SMOOTH_MM))


def rims_on_metal(outlines: Sequence[Polygon], metal: Polygon | MultiPolygon) -> list[Polygon]:
    """The paper of each piece as it lies on the metal, no two overlapping by more than a hair."""
    shells = [_shell(outline) for outline in outlines]
    solid = [_smooth(outline) for outline in outlines]
    tree = shapely.STRtree(solid)
    rims = []
    for index, shell in enumerate(shells):
        near = tree.query(shell, predicate="dwithin", distance=2 * RIM_MM)
        # What lies in a window of this piece does not touch the paper's outer rim.
        others = [solid[k] for k in near.tolist() if k != index and not shell.covers(shells[k])]
        rims.append(_rim(shell, others, metal))
    return rims


def _rim(shell: Polygon, others: list[Polygon], metal: Polygon | MultiPolygon) -> Polygon:
    grown: list[BaseGeometry] = [shell]
    steps = round(RIM_MM / STEP_MM)
    if not others:
        grown.append(shell.buffer(RIM_MM, quad_segs=6))
    for k in range(1, steps + 1 if others else 1):
        reach = k * STEP_MM
        theirs = united(other.buffer(reach, quad_segs=4) for other in others)
        grown.append(without(shell.buffer(reach, quad_segs=4), theirs))
    paper = joined(common(united(grown), metal), shell)
    return _whole(paper.simplify(SMOOTH_MM))


def flush_lines(outline: Polygon, rim: Polygon) -> MultiLineString:
    """Stretches of the outer saw line along which the paper ends within half a millimetre."""
    ring = LineString(outline.exterior.coords)
    near = ring.intersection(rim.exterior.buffer(FLUSH_MM, quad_segs=4))
    merged = shapely.line_merge(shapely.MultiLineString(_lines(near)))
    return MultiLineString([part for part in _lines(merged) if part.length >= TRIM_LEAST_MM])


def _lines(shape: shapely.Geometry) -> list[LineString]:
    return [
        part
        for part in shapely.get_parts(shape)
        if isinstance(part, LineString) and not part.is_empty
    ]


def _shell(outline: Polygon) -> Polygon:
    return _smooth(Polygon(outline.exterior))


def _smooth(outline: Polygon) -> Polygon:
    simple = outline.simplify(SMOOTH_MM)
    return simple if isinstance(simple, Polygon) and not simple.is_empty else outline


def _whole(shape: shapely.Geometry) -> Polygon:
    """The largest part without its windows: paper is cut out as one piece."""
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    largest = max(parts, key=lambda part: part.area)
    return Polygon(largest.exterior)
