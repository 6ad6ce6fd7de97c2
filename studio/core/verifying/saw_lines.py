"""Which stretches of the pieces' outlines need no sawing, or only one cut for two pieces.

A *free edge* is a stretch of a shell that lies on a clean metal edge; a *shared line* is the
common stretch of two pieces' parallel straight edges exactly one kerf apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon

from studio.core.verifying.pairs import near_pairs_of

ON_EDGE_MM = 0.05
"""A stretch lies on an edge, or is one kerf away, when it is true to this."""

SHARED_LEAST_MM = 3.0
"""A shorter common stretch is sawn twice: it is no help at the bench."""

PARALLEL = 0.1  # sine of the greatest angle between a curve's chord and the edge it lies on

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one piece's rim, by the piece's index, and the piece it is shared with."""

    piece: int
    line: LineString
    other: int | None = None


def edges_of(polygon: Polygon, *, windows: bool) -> Array:
    """The straight edges (x0, y0, x1, y1) with the metal of the piece on their left.

    Vertices in the middle of a straight line are dropped, so that an edge is as long as it is.
    """
    rings = [polygon.exterior, *(polygon.interiors if windows else ())]
    found = []
    for number, ring in enumerate(rings):
        coords = shapely.get_coordinates(shapely.simplify(ring, 1e-6))
        if len(coords) < 4:
            coords = shapely.get_coordinates(ring)
        if bool(shapely.is_ccw(ring)) != (number == 0):
            coords = coords[::-1]
        found.append(np.hstack([coords[:-1], coords[1:]]))
    edges = np.vstack(found)
    return edges[np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]) > 1e-9]


def free_stretches(outlines: Sequence[Polygon], metal: Sequence[Polygon]) -> list[Stretch]:
    """Stretches of the shells on the edges of the metal's parts (all taken to be clean)."""
    if not outlines or not metal:
        return []
    rim = np.vstack([edges_of(part, windows=True) for part in metal])
    found: list[Stretch] = []
    for index, outline in enumerate(outlines):
        edges = edges_of(outline, windows=False)
        spans = spans_beside(edges, rim, gap=0.0, facing=1.0, least=1e-6)
        found.extend(
            Stretch(index, stretch_of(edges[k], span)) for k in spans for span in merged(spans[k])
        )
    return found


def shared_stretches(outlines: Sequence[Polygon], kerf: float) -> list[Stretch]:
    """Stretches shared by two outlines, each pair once, on the piece that comes first."""
    if len(outlines) < 2:
        return []
    edges = [_long(edges_of(outline, windows=True)) for outline in outlines]
    tree = shapely.STRtree(list(outlines))
    near = tree.query(outlines, predicate="dwithin", distance=kerf + ON_EDGE_MM)
    found: list[Stretch] = []
    for i, j in sorted(near.T.tolist()):
        if i >= j or not len(edges[i]) or not len(edges[j]):
            continue
        spans = spans_beside(edges[i], edges[j], gap=kerf, facing=-1.0, least=SHARED_LEAST_MM)
        found.extend(
            Stretch(i, stretch_of(edges[i][k], span), j) for k in spans for span in merged(spans[k])
        )
    return found


def _long(edges: Array) -> Array:
    return edges[np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]) >= SHARED_LEAST_MM]


def spans_beside(
    edges: Array,
    others: Array,
    *,
    gap: float,
    facing: float,
    least: float,
    true_to: float = ON_EDGE_MM,
) -> dict[int, list[tuple[float, float]]]:
    """Where along each edge (in mm from its start) another edge runs parallel, `gap` to its
    right; by the edge's index. `facing` is 1 for edges in the same sense, −1 for opposite, and
    no span is shorter than `least`. It is `gap` away when that is true to `true_to`."""
    spans: dict[int, list[tuple[float, float]]] = {}
    for rows, columns in near_pairs_of(edges, others, gap + true_to):
        for e, span in _beside(
            edges[rows], others[columns], rows, gap=gap, facing=facing, least=least, true_to=true_to
        ):
            spans.setdefault(e, []).append(span)
    return spans


def _beside(
    edges: Array,
    others: Array,
    numbers: npt.NDArray[np.int64],
    *,
    gap: float,
    facing: float,
    least: float,
    true_to: float,
) -> Iterator[tuple[int, tuple[float, float]]]:
    """The number and the span of each edge that runs beside the one next to it in `others`."""
    x0, y0 = edges[:, 0], edges[:, 1]
    length = np.hypot(edges[:, 2] - x0, edges[:, 3] - y0)
    ux, uy = (edges[:, 2] - x0) / length, (edges[:, 3] - y0) / length
    # along and across (positive to the right) for both ends of the other edges
    along0 = (others[:, 0] - x0) * ux + (others[:, 1] - y0) * uy
    along1 = (others[:, 2] - x0) * ux + (others[:, 3] - y0) * uy
    across0 = (others[:, 0] - x0) * uy - (others[:, 1] - y0) * ux
    across1 = (others[:, 2] - x0) * uy - (others[:, 3] - y0) * ux
    run = along1 - along0
    rise = across1 - across0
    near = (
        (run * facing > 0.0)
        & (np.abs(rise) <= PARALLEL * np.abs(run))
        & (np.minimum(across0, across1) <= gap + true_to)
        & (np.maximum(across0, across1) >= gap - true_to)
        & (np.minimum(along0, along1) <= length - least + 1e-6)
        & (np.maximum(along0, along1) >= least - 1e-6)
    )
    for k in np.flatnonzero(near).tolist():
        end = float(length[k])
        a0, a1, c0 = float(along0[k]), float(along1[k]), float(across0[k])
        low, high = max(0.0, min(a0, a1)), min(end, max(a0, a1))
        slope = float(rise[k] / run[k])
        if abs(slope) > 1e-12:  # only as far as the two stay within the tolerance
            bounds = sorted(a0 + (gap + side * true_to - c0) / slope for side in (-1.0, 1.0))
            low, high = max(low, bounds[0]), min(high, bounds[1])
        if high - low >= least - 1e-6:
            yield int(numbers[k]), (low, high)


def merged(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Overlapping spans joined, so that nothing counts twice."""
    merged: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1] + 1e-9:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return merged


def stretch_of(edge: Array, span: tuple[float, float]) -> LineString:
    x0, y0, x1, y1 = edge.tolist()
    length = float(np.hypot(x1 - x0, y1 - y0))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    return LineString([(x0 + ux * at, y0 + uy * at) for at in span])
