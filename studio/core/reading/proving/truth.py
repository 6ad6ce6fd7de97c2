"""Random drawings as a student would ink them, with every true line known. Deterministic."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

Points = NDArray[np.float64]

SHADINGS = ("grey", "hatched", "crossed", "black")


@dataclass(frozen=True, slots=True)
class TrueWindow:
    points: Points
    shading: str


@dataclass(frozen=True, slots=True)
class TrueMark:
    """A drill mark; `cross` marks state no diameter."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    cross: bool


@dataclass(slots=True)
class TruePiece:
    outline: Points
    windows: list[TrueWindow] = field(default_factory=list)
    marks: list[TrueMark] = field(default_factory=list)
    lines: list[tuple[Points, bool]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class TrueDrawing:
    """Millimetres, y upwards, within (0, 0) to (width_mm, height_mm)."""

    width_mm: float
    height_mm: float
    pen_mm: float
    pieces: tuple[TruePiece, ...]

    @property
    def window_count(self) -> int:
        return sum(len(piece.windows) for piece in self.pieces)

    @property
    def mark_count(self) -> int:
        return sum(len(piece.marks) for piece in self.pieces)


def random_drawing(seed: int, width_mm: float = 80.0, height_mm: float = 60.0) -> TrueDrawing:
    """One or two pieces with windows, drill marks and surface lines, all well apart."""
    chance = np.random.default_rng(seed)
    pen = float(chance.uniform(0.35, 0.7))
    count = int(chance.integers(1, 3))
    room = width_mm / count
    pieces = []
    for number in range(count):
        reach = min(room, height_mm) / 2 - 4.0
        middle = np.array([room * (number + 0.5), height_mm / 2])
        pieces.append(_piece(chance, middle, reach, pen))
    return TrueDrawing(width_mm, height_mm, pen, tuple(pieces))


def _piece(chance: Generator, middle: Points, reach: float, pen: float) -> TruePiece:
    outline = _shape(chance, middle, reach)
    piece = TruePiece(outline)
    taken: BaseGeometry = Polygon(outline).exterior.buffer(1.2 + pen)
    for _ in range(int(chance.integers(0, 5))):
        size = float(chance.uniform(0.12, 0.32)) * reach
        shading = str(chance.choice(SHADINGS))
        # In less than this a pen's hatching leaves no paper to be seen.
        size = max(size, 3.0 if shading in ("hatched", "crossed") else 2.2)
        spot = _spot(chance, outline, taken, size)
        if spot is None:
            continue
        points = _shape(chance, spot, size)
        piece.windows.append(TrueWindow(points, shading))
        taken = taken.union(Polygon(points).buffer(1.0 + pen))
    for _ in range(int(chance.integers(0, 4))):
        diameter = float(chance.uniform(1.2, 3.0))
        cross = bool(chance.random() < 0.3)
        spot = _spot(chance, outline, taken, diameter / 2)
        if spot is None:
            continue
        piece.marks.append(TrueMark(float(spot[0]), float(spot[1]), diameter, cross))
        taken = taken.union(Point(spot).buffer(diameter / 2 + 1.0 + pen))
    for _ in range(int(chance.integers(0, 3))):
        size = float(chance.uniform(2.5, 5.0))
        spot = _spot(chance, outline, taken, size)
        if spot is None:
            continue
        closed = bool(chance.random() < 0.4)
        points = _shape(chance, spot, size) if closed else _bow(chance, spot, size)
        piece.lines.append((points, closed))
        taken = taken.union(Point(spot).buffer(size + 1.0 + pen))
    return piece


def _spot(chance: Generator, outline: Points, taken: BaseGeometry, size: float) -> Points | None:
    inside = Polygon(outline)
    x0, y0, x1, y1 = inside.bounds
    for _ in range(40):
        spot = np.array([chance.uniform(x0, x1), chance.uniform(y0, y1)])
        disc = Point(spot).buffer(size)
        if inside.contains(disc) and not disc.intersects(taken):
            return spot
    return None


def _shape(chance: Generator, middle: Points, reach: float) -> Points:
    """A closed line within `reach` of `middle`: wavy, cornered, an ellipse or a drop."""
    kind = str(chance.choice(["wavy", "cornered", "ellipse", "drop"]))
    turn = np.linspace(0.0, math.tau, max(60, int(reach * 40)), endpoint=False)
    start = float(chance.uniform(0.0, math.tau))
    if kind == "wavy":
        radius = np.ones_like(turn)
        for wave in range(2, 5):
            size = chance.uniform(0, 0.12) / wave * 2
            radius += size * np.cos(wave * turn + chance.uniform(0, math.tau))
        points = np.stack((radius * np.cos(turn), radius * np.sin(turn)), axis=1)
    elif kind == "cornered":
        sides = int(chance.integers(3, 8))
        angles = np.arange(sides) * math.tau / sides + chance.uniform(-0.15, 0.15, sides)
        lengths = chance.uniform(0.8, 1.0, sides)
        points = np.stack((lengths * np.cos(angles), lengths * np.sin(angles)), axis=1)
    elif kind == "ellipse":
        points = np.stack((np.cos(turn), float(chance.uniform(0.6, 1.0)) * np.sin(turn)), axis=1)
    else:
        half = turn / 2
        points = np.stack((np.cos(turn), np.sin(turn) * np.sin(half) ** 0.8), axis=1)
        points = points[1:] if np.allclose(points[0], points[-1]) else points
    c, s = math.cos(start), math.sin(start)
    points = points @ np.array([[c, s], [-s, c]])
    found: Points = middle + points * (reach / np.hypot(*points.T).max())
    return found


def _bow(chance: Generator, middle: Points, reach: float) -> Points:
    turn = np.linspace(0.0, float(chance.uniform(0.6, 2.2)), 60) + chance.uniform(0, math.tau)
    points = np.stack((np.cos(turn), np.sin(turn)), axis=1)
    points -= points.mean(axis=0)
    found: Points = middle + points * (0.95 * reach / np.hypot(*points.T).max())
    return found
