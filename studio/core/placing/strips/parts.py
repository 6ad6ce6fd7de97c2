"""Every form of a strip cut into convex parts, between which a straight line can be drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from studio.core.placing.separating.flat import starts_of
from studio.core.placing.separating.kernels import Floats, Ints

MOST_CORNERS = 4_000  # of all parts of all forms together
STRAIGHT = 1e-9  # a corner bent inwards by no more, by the piece's area, is none

Corner = tuple[float, float]


class Parts(NamedTuple):
    """Every form cut into convex parts; corners of a part are neighbours, against the clock."""

    at: Ints  # parts of form k: at[k] to at[k + 1]
    corner_at: Ints  # corners of part k: corner_at[k] to corner_at[k + 1]
    corner: Floats  # (corners, 2)
    outward: Floats  # (corners, 2): of length 1, across the edge from here to the next corner
    box: Floats  # (parts, 4)


def parts_of(outlines: Sequence[Polygon]) -> Parts | None:
    """The convex parts of outlines; None where there are too many to be worth it."""
    if sum(shapely.get_num_coordinates(outline) for outline in outlines) > MOST_CORNERS:
        return None
    cut = [convex_parts(outline) for outline in outlines]
    rings = [ring for parts in cut for ring in parts]
    if sum(len(ring) for ring in rings) > MOST_CORNERS:
        return None
    edges = [np.roll(ring, -1, axis=0) - ring for ring in rings]
    outward = np.vstack([np.column_stack([edge[:, 1], -edge[:, 0]]) for edge in edges])
    return Parts(
        at=np.cumsum([0, *(len(parts) for parts in cut)], dtype=np.int64),
        corner_at=starts_of(rings),
        corner=np.vstack(rings),
        outward=outward / np.hypot(outward[:, 0], outward[:, 1])[:, None],
        box=np.array([(*ring.min(axis=0), *ring.max(axis=0)) for ring in rings]),
    )


def convex_parts(outline: Polygon) -> list[Floats]:
    """An outline cut into convex rings: triangles, joined over the longest common edge first."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(outline))
    rings = {k: _corners(triangle) for k, triangle in enumerate(triangles)}
    beside: dict[tuple[Corner, Corner], int] = {}  # which ring has an edge, as it runs along it
    for k, ring in rings.items():
        for i, p in enumerate(ring):
            beside[p, ring[(i + 1) % len(ring)]] = k
    inner = [edge for edge in beside if edge[::-1] in beside and edge[0] < edge[1]]
    slack = STRAIGHT * outline.area
    for p, q in sorted(inner, key=lambda edge: (-_length(*edge), edge)):
        one, other = beside[p, q], beside[q, p]
        if one == other:
            continue
        joined = _from(rings[one], q)[:-1] + _from(rings[other], p)[:-1]
        if not _is_convex(joined, slack):
            continue
        rings[one] = joined
        for i, corner in enumerate(joined):
            beside[corner, joined[(i + 1) % len(joined)]] = one
        del rings[other]
    return [np.array(ring) for ring in rings.values()]


def _corners(triangle: Polygon) -> list[Corner]:
    return [(x, y) for x, y in orient(triangle).exterior.coords[:-1]]


def _length(p: Corner, q: Corner) -> float:
    return float(np.hypot(q[0] - p[0], q[1] - p[1]))


def _from(ring: list[Corner], first: Corner) -> list[Corner]:
    at = ring.index(first)
    return ring[at:] + ring[:at]


def _is_convex(ring: list[Corner], slack: float) -> bool:
    for i, (x1, y1) in enumerate(ring):
        (x0, y0), (x2, y2) = ring[i - 1], ring[(i + 1) % len(ring)]
        if (x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1) < -slack:
            return False
    return True
