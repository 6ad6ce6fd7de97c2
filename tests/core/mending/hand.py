"""Shapes with known truth, and a hand that shakes: broad, uneven swing with a fixed seed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from studio.core.reading import Line, Source, Tracing
from studio.core.reading.joining.rounds import round_of

Points = NDArray[np.float64]
LEAF_TIPS = np.array([(0.0, 0.0), (60.0, 0.0)])


def tracing(*shapes: Points | Sequence[tuple[float, float]], kind: str = "scan") -> Tracing:
    """Closed lines "1", "2", ... as read from a picture, or from a file of another kind."""
    return Tracing(
        Source(kind, "mm", "resolution"),
        tuple(closed_line(str(number), each) for number, each in enumerate(shapes, start=1)),
    )


def closed_line(name: str, shape: Points | Sequence[tuple[float, float]]) -> Line:
    points: Points = np.asarray(shape, dtype=np.float64).round(6)
    return Line(name, _tuples(points), closed=True, round=round_of(points))


def open_line(name: str, shape: Points | Sequence[tuple[float, float]]) -> Line:
    points: Points = np.asarray(shape, dtype=np.float64).round(6)
    return Line(name, _tuples(points), closed=False)


def _tuples(points: Points) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


def polygon(corners: Sequence[tuple[float, float]], step: float = 0.5) -> Points:
    """Points along the sides every `step` millimetres, corners included."""
    ring = np.array([*corners, corners[0]], dtype=np.float64)
    parts = []
    for one, other in pairwise(ring):
        count = max(1, math.ceil(float(np.hypot(*(other - one))) / step))
        parts.append(one + np.outer(np.arange(count) / count, other - one))
    return np.vstack(parts)


def ellipse(x: float, y: float, a: float, b: float, turn: float = 0.0, count: int = 240) -> Points:
    t = np.linspace(0.0, math.tau, count, endpoint=False)
    c, s = math.cos(turn), math.sin(turn)
    u, v = a * np.cos(t), b * np.sin(t)
    return np.stack((x + c * u - s * v, y + s * u + c * v), axis=1)


def shaken(points: Points, size_mm: float, seed: int, *, corners: Points | None = None) -> Points:
    """The closed line moved aside by a smooth uneven swing whose greatest is `size_mm`.

    Waves of 3 to 25 mm along the line. Near the `corners` the swing dies away.
    """
    chance = np.random.default_rng(seed)
    ring = np.vstack((points, points[:1]))
    steps = np.hypot(*np.diff(ring, axis=0).T)
    run = np.concatenate(([0.0], np.cumsum(steps)))
    length = run[-1]
    off = np.zeros(len(points))
    for wave in range(max(2, int(length / 25)), max(4, int(length / 3))):
        phase, height = chance.uniform(0, math.tau), chance.normal() / math.sqrt(wave)
        off += height * np.cos(math.tau * wave * run[:-1] / length + phase)
    if corners is not None:
        near = np.min([np.hypot(*(points - corner).T) for corner in corners], axis=0)
        off *= np.clip(near / 1.5, 0.0, 1.0)
    off *= size_mm / np.abs(off).max()
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    along /= np.hypot(*along.T)[:, None]
    return points + off[:, None] * np.stack((-along[:, 1], along[:, 0]), axis=1)


def leaf(lower: float = 1.0) -> Points:
    """Two curves from tip to tip, 60 mm apart; the under one so many times as deep."""
    u = np.linspace(0, 1, 121)
    rise = 14 * np.sin(math.pi * u) * (1 - 0.3 * u)
    upper = np.stack((60 * u, rise), axis=1)
    under = np.stack((60 * u, -lower * rise), axis=1)[::-1]
    return np.vstack((upper[:-1], under[:-1]))
