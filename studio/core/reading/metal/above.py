"""What the metal's thickness does: its upper face is nearer to the camera, so it looks larger.

Where the outline faces away from the point below the camera, the upper edge is what is seen; it
appears further out than it is, by its height over the camera's. Where it faces that point, the
lower edge is seen, where it lies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from studio.core.reading.scan.scaling.camera import Camera

Points = NDArray[np.float64]

FOCAL = 1.5
"""Focal length as a share of half the picture's longer side: that of most phones' main camera
(from memory). A third more or less changes what is put right here by a third."""


def camera_over(camera: Camera) -> Points:
    """Where the camera stood: x, y and height above the paper in millimetres."""
    back = np.diag([1 / FOCAL, 1 / FOCAL, 1.0]) @ camera.homography
    lengths = np.linalg.norm(back[:, :2], axis=0)
    back = back * (2.0 / lengths.sum()) * (1.0 if back[2, 2] > 0 else -1.0)
    one, other = back[:, 0], back[:, 1]
    rotation = np.stack((one, other, np.cross(one, other)), axis=1)
    # The guess at the focal length leaves it a little out of square.
    left, _, right = np.linalg.svd(rotation)
    place: Points = -(left @ right).T @ back[:, 2]
    return place


def put_down(points: Points, away: Points, over: Points, thickness_mm: float) -> Points:
    """Points of an outline as seen, and unit vectors away from the metal, to where they are."""
    from_below = points - over[:2]
    upper = (from_below * away).sum(axis=1) > 0
    share = thickness_mm / max(float(over[2]), 10 * thickness_mm)
    return np.where(upper[:, None], points - share * from_below, points)
