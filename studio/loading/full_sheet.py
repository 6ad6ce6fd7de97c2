"""A sheet full of pieces, for the layout table: 40 of 280 points, as traced patterns have them."""

from __future__ import annotations

import math
import random
from typing import Any

from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

WIDE_MM, HIGH_MM = 304.8, 152.4
SHEET = box(0.0, 0.0, WIDE_MM, HIGH_MM)
COLUMNS, ROWS = 8, 5
PIECES = COLUMNS * ROWS
POINTS = 280
ABOVE = box(-50.0, -7.0, 50.0, 50.0)


def lobed(number: int) -> Polygon:
    """Round with a few waves, millimetres; every third has a straight side."""
    points = POINTS
    while True:
        round_ = [_at(math.tau * k / points, number) for k in range(points)]
        outline = Polygon(round_)
        if number % 3 == 0:  # what the straight side takes away, the waves have more of
            outline = orient(outline.intersection(ABOVE))
        if len(outline.exterior.coords) > POINTS:
            return outline
        points += 1


def _at(turn: float, number: int) -> tuple[float, float]:
    reach = 12.0 * (1.0 + 0.15 * math.cos((2 + number % 5) * turn))
    return reach * math.cos(turn), reach * math.sin(turn)


def spots(chance: random.Random) -> list[dict[str, Any]]:
    """Where each of the pieces lies on the sheet without a fault: x_mm, y_mm, turn_deg, mirror."""
    return [
        {
            "mirror": False,
            "turn_deg": chance.uniform(0.0, 360.0),
            "x_mm": 19.0 + 38.0 * (number % COLUMNS),
            "y_mm": 16.2 + 30.0 * (number // COLUMNS),
        }
        for number in range(PIECES)
    ]


def path_across(
    chance: random.Random, steps: int, size: tuple[float, float], step: float
) -> list[tuple[float, float]]:
    """A hand's way over a field: forward, now and then bending, turned back at the sides."""
    x, y, way = size[0] / 2, size[1] / 2, chance.uniform(0.0, math.tau)
    found = []
    for _ in range(steps):
        way += chance.uniform(-0.6, 0.6)
        x, y = x + step * math.cos(way), y + step * math.sin(way)
        if not 0.0 <= x <= size[0]:
            way = math.pi - way
        if not 0.0 <= y <= size[1]:
            way = -way
        x, y = min(max(x, 0.0), size[0]), min(max(y, 0.0), size[1])
        found.append((x, y))
    return found
