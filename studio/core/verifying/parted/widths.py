"""How wide an outline is: the least distance of two parallel lines between which it fits."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon


def least_width_mm(outline: Polygon) -> float:
    """The width of an outline's convex hull, in mm.

    One of the two lines lies along an edge of the hull, the other meets it where the hull has
    turned by half a turn.

    >>> from shapely.geometry import box
    >>> from shapely.affinity import rotate
    >>> round(least_width_mm(rotate(box(0, 0, 40, 9), 33)), 9)
    9.0
    """
    corners = shapely.get_coordinates(outline.convex_hull)[:-1]
    if not shapely.is_ccw(shapely.linearrings(corners)):
        corners = corners[::-1]
    edges = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(edges[:, 0], edges[:, 1])
    corners, edges, length = corners[length > 0.0], edges[length > 0.0], length[length > 0.0]
    angles = np.unwrap(np.arctan2(edges[:, 1], edges[:, 0]))
    # the first edge that has turned further begins at the corner that lies furthest across
    turned = np.concatenate([angles, angles + 2.0 * np.pi])
    furthest = np.searchsorted(turned, angles + np.pi)
    across = np.full(len(corners), 0.0)
    for beside in (-1, 0, 1):  # angles are rounded
        away = corners[(furthest + beside) % len(corners)] - corners
        deep = (edges[:, 0] * away[:, 1] - edges[:, 1] * away[:, 0]) / length
        across = np.maximum(across, deep)
    return float(across.min())
