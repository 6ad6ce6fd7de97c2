"""A drawing that a student of the demo inked by hand, and her photo of it in the capture frame.

Made when the demo is made, by the house's own renderer of paper and camera, so that what is shown
was really read out of a photo.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from studio.core.reading.frame import FRAMES
from studio.core.reading.proving.photographing import Shot, photographed
from studio.core.reading.proving.rendering import file_of
from studio.core.reading.proving.truth import TrueDrawing, TrueMark, TruePiece, TrueWindow

Points = NDArray[np.float64]

_PAPER_MM = (70.0, 70.0)
_MIDDLE = np.array([35.0, 34.0])
_SEED = 7
_SHOT = Shot(tilt_deg=20.0, turn_deg=7.0, k1=0.02, megapixels=5.0, fall=0.45, fine=12.0)


def photo_of_moonrise(frame: str) -> bytes:
    """JPEG of a pendant, the moon over the harbour wall, taken 20 degrees askew."""
    drawn = moonrise()
    return file_of(photographed(FRAMES[frame], drawn, _SHOT, seed=_SEED), "JPEG", quality=80)


def moonrise() -> TrueDrawing:
    """A nearly round pendant with a moon, two openings of a wall, waves, a star and a ring hole."""
    hand = np.random.default_rng(_SEED)
    rim = _trembling(_round(22.0, 21.6, 240), hand, 0.3)
    moon = _crescent(7.0, np.array([5.0, 7.4]))
    left = _trembling(_box(-13.0, -7.5, -2.2, -2.0), hand, 0.12)
    right = _trembling(_box(1.8, -7.4, 12.6, -2.1), hand, 0.12)
    piece = TruePiece(
        _MIDDLE + rim,
        windows=[
            TrueWindow(_MIDDLE + moon, "hatched"),
            TrueWindow(_MIDDLE + left, "hatched"),
            TrueWindow(_MIDDLE + right, "grey"),
        ],
        marks=[
            TrueMark(_MIDDLE[0], _MIDDLE[1] + 18.0, 2.2, cross=False),
            TrueMark(_MIDDLE[0] - 8.5, _MIDDLE[1] + 7.0, 1.6, cross=True),
        ],
        lines=[(_MIDDLE + _wave(-12.0, 12.0, -12.0), False)],
    )
    return TrueDrawing(*_PAPER_MM, pen_mm=0.5, pieces=(piece,))


def _round(across: float, up: float, count: int) -> Points:
    turn = np.linspace(0.0, math.tau, count, endpoint=False)
    return np.stack((across * np.cos(turn), up * np.sin(turn)), axis=1)


def _crescent(reach: float, middle: Points) -> Points:
    """Between two bows that meet in two tips."""
    bow = reach * _arc(60.0, 300.0, 90)
    aside, tip = 0.45 * reach, bow[0]
    around = math.degrees(math.atan2(tip[1], tip[0] - aside))
    inner = math.hypot(tip[0] - aside, tip[1]) * _arc(360.0 - around, around, 60)[1:-1]
    found: Points = middle + np.vstack((bow, inner + np.array([aside, 0.0])))
    return found


def _arc(first_deg: float, last_deg: float, count: int) -> Points:
    turn = np.radians(np.linspace(first_deg, last_deg, count))
    return np.stack((np.cos(turn), np.sin(turn)), axis=1)


def _box(left: float, low: float, right: float, high: float) -> Points:
    corners = np.array([(left, low), (right, low), (right, high), (left, high)])
    sides = [
        corners[number] + np.linspace(0.0, 1.0, 24, endpoint=False)[:, None] * step
        for number, step in enumerate(np.roll(corners, -1, axis=0) - corners)
    ]
    return np.vstack(sides)


def _wave(left: float, right: float, up: float) -> Points:
    across = np.linspace(left, right, 90)
    return np.stack((across, up + 1.1 * np.sin(across * math.tau / 8.0)), axis=1)


def _trembling(points: Points, hand: Generator, most_mm: float) -> Points:
    """A closed line as a hand draws it: short waves of no one length, to both sides."""
    count = len(points)
    turn = np.linspace(0.0, math.tau, count, endpoint=False)
    off = np.zeros(count)
    for waves in (9, 13, 17, 22):
        off += hand.uniform(0.3, 1.0) * np.cos(waves * turn + hand.uniform(0.0, math.tau))
    off *= most_mm / float(np.abs(off).max())
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    along /= np.hypot(*along.T)[:, None]
    found: Points = points + off[:, None] * np.stack((along[:, 1], -along[:, 0]), axis=1)
    return found
