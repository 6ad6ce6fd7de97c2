"""Scale from a thing of known size that lies beside the drawing and that the student marked.

Two points with their distance, or a coin's rim, give the scale of a picture taken straight from
above. A card's four corners also give the perspective. Everything lies in one plane. What was
marked roughly is looked for again in the picture itself, and a coin or card is taken out of the
picture before the drawing is read.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding, Weight
from studio.core.reading.errors import PatternError
from studio.core.reading.rough import Reference
from studio.core.reading.scan.ink.inking import Grey
from studio.core.reading.scan.ink.small_rounds import circle_through, fitted_circle
from studio.core.reading.scan.limits import LEAST_PX_PER_MM, WORK_PIXELS, WORK_PX_PER_MM

from .camera import fitted_camera, flattened
from .markers import fitted_side, meeting
from .rims import SLANT_MOST_DEG, rim_near, without_box, without_disc

Points = NDArray[np.float64]

_AROUND_CARD_MM = 1.5  # its shadow, and corners that were marked a little inside


def by_reference(grey: Grey, reference: Reference) -> tuple[Grey, float, list[Finding]]:
    """A picture to be read, its dots for a millimetre, and what to say about it."""
    points = np.array(reference.points, dtype=np.float64).reshape(-1, 2)
    high, wide = grey.shape
    if not np.isfinite(points).all() or (points < -1).any() or (points > [wide, high]).any():
        raise _odd("One of the marked points lies outside the picture.")
    if reference.kind == "card":
        return _by_card(grey, points, reference)
    findings = []
    if reference.kind == "coin":
        marked = fitted_circle(points, 0.05) if len(points) >= 8 else circle_through(points)
        if marked is None or 2 * marked[2] < LEAST_PX_PER_MM * reference.width_mm:
            raise _odd("The marked points do not lie on the rim of one round coin.")
        if 2 * marked[2] > 2 * max(high, wide):
            raise _odd("The marked points do not lie on the rim of one round coin.")
        rim = rim_near(grey, marked)
        scale = 2 * rim.radius / reference.width_mm
        grey = without_disc(grey, rim)
        if rim.slant_deg > SLANT_MOST_DEG:
            findings.append(_aslant(rim.slant_deg))
    else:
        if len(points) != 2:
            raise _odd("A length needs exactly two marked points.")
        scale = float(np.hypot(*(points[1] - points[0]))) / reference.width_mm
    if scale < LEAST_PX_PER_MM:
        raise _odd("The marked points lie too near each other for the size that was given.")
    flat = _smaller(grey, scale)
    caution = Finding(
        "reference-flat",
        Weight.CAUTION,
        "The size comes from one marked length, so the photo must be taken straight from above.",
        "For a true size use a flatbed scan or the printed capture frame.",
    )
    return flat[0], flat[1], [caution, *findings]


def _aslant(degrees: float) -> Finding:
    return Finding(
        "reference-slant",
        Weight.CAUTION,
        f"The coin looks like an oval: the photo was taken about {degrees:.0f} degrees from the "
        "side, so the drawing comes out too short one way.",
        "Take the photo again from straight above, or use the printed capture frame.",
    )


def _smaller(grey: Grey, scale: float) -> tuple[Grey, float]:
    if grey.size <= WORK_PIXELS:
        return grey, scale
    import cv2

    factor = (WORK_PIXELS / grey.size) ** 0.5
    size = round(grey.shape[1] * factor), round(grey.shape[0] * factor)
    return cv2.resize(grey, size, interpolation=cv2.INTER_AREA), scale * size[0] / grey.shape[1]


def _by_card(grey: Grey, points: Points, reference: Reference) -> tuple[Grey, float, list[Finding]]:
    """The four corners clockwise from the upper left; the long side is on top."""
    if len(points) != 4:
        raise _odd("A card needs its four corners marked.")
    centre = points.mean(axis=0)
    turn = np.arctan2(*(points - centre).T[::-1])
    points = points[np.argsort(turn)]
    top = float(np.hypot(*(points[1] - points[0])))
    side = float(np.hypot(*(points[2] - points[1])))
    if top < side:
        points = np.roll(points, -1, axis=0)
    # Rounded corners are no part of the sides: a sixth at both ends is left out.
    sides = [fitted_side(grey, points[k], points[(k + 1) % 4], centre, 1 / 6) for k in range(4)]
    whole = [each for each in sides if each is not None]
    if len(whole) == 4:
        better = np.array([meeting(whole[k - 1], whole[k]) for k in range(4)])
        if np.hypot(*(better - points).T).max() < 0.08 * max(top, side):
            points = better
    long, short = reference.width_mm, reference.height_mm
    paper = np.array([[0, short], [long, short], [long, 0], [0, 0]], dtype=np.float64)
    try:
        camera = fitted_camera(paper, points, (grey.shape[1], grey.shape[0]), lens=False)
    except (ValueError, np.linalg.LinAlgError) as odd:
        raise _odd("The four marked corners do not make a card.") from odd
    back = np.linalg.inv(camera.homography)
    rim = np.array(
        [
            [0, 0],
            [grey.shape[1] - 1, 0],
            [grey.shape[1] - 1, grey.shape[0] - 1],
            [0, grey.shape[0] - 1],
        ],
        dtype=np.float64,
    )
    rays = np.column_stack(((rim - camera.middle) / camera.reach, np.ones(4))) @ back.T
    if (rays[:, 2] * rays[0, 2] <= 0).any():
        raise _odd("The photo is taken too much from the side.")
    corners = rays[:, :2] / rays[:, 2:]
    least, most = corners.min(axis=0), corners.max(axis=0)
    size = most - least
    scale = min(WORK_PX_PER_MM, float((WORK_PIXELS / (size[0] * size[1])) ** 0.5))
    if scale < LEAST_PX_PER_MM or max(size) > 2000:
        raise _odd("The card is too small in the picture.")
    shifted = camera.homography @ np.array([[1, 0, least[0]], [0, 1, least[1]], [0, 0, 1.0]])
    moved = type(camera)(shifted / shifted[2, 2], 0.0, camera.middle, camera.reach)
    flat = flattened(grey, moved, float(size[0]), float(size[1]), scale)
    # What the photo does not show must not look like ink.
    seen = flattened(np.full_like(grey, 255), moved, float(size[0]), float(size[1]), scale)
    flat[seen < 255] = int(np.median(grey))
    left, top = -least[0] * scale, (most[1] - short) * scale
    flat = without_box(flat, left, top, long * scale, short * scale, _AROUND_CARD_MM * scale)
    caution = Finding(
        "reference-card",
        Weight.CAUTION,
        "The size and the slant come from one small card, so far from it errors grow.",
        "Lay the card near the drawing, or use the printed capture frame.",
    )
    return flat, scale, [caution]


def _odd(message: str) -> PatternError:
    return PatternError("reference-odd", message, "Mark the known thing again.")
