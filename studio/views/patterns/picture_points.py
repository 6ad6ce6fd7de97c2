"""Where on a picture do the numbers of the findings stand? Beside the place, never on it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from .findings import NumberedFinding

MOST_POINTS = 60
"""More numbers than this on one picture hide it; the list has them all."""

_RADIUS = 0.03  # of the drawing's size
_TURNS = (-0.25, -0.75, 0.25, 0.75, 0.0, -0.5, 0.5, 1.0)  # in half turns: up-right first
_STEPS = (2.2, 3.4, 4.6, 6.0)  # radii away from the place


@dataclass(frozen=True, slots=True)
class MarkedPoint:
    """A finding's number at x, y; `leader` leads from it to a dot on the very place."""

    number: int
    weight: str
    x: str
    y: str
    r: str
    leader: str
    dot_x: str
    dot_y: str
    dot_r: str


def place_points(
    findings: Iterable[NumberedFinding],
    box: tuple[float, float, float, float],
    span: float,
) -> tuple[MarkedPoint, ...]:
    """Numbers for the findings that have a place, kept apart from one another.

    `box` is the drawing's in millimetres, y upwards; the answer's y points down.
    """
    radius = _RADIUS * span
    pad = 0.05 * span
    inside = (box[0] - pad, -box[3] - pad, box[2] + pad, -box[1] + pad)
    placed: list[tuple[float, float]] = []
    points: list[MarkedPoint] = []
    for finding in findings:
        if finding.at is None or len(points) >= MOST_POINTS:
            continue
        x, y = finding.at[0], -finding.at[1]
        spot = _free_spot(x, y, radius, inside, placed)
        placed.append(spot)
        points.append(
            MarkedPoint(
                number=finding.number,
                weight=finding.weight,
                x=_three(spot[0]),
                y=_three(spot[1]),
                r=_three(radius),
                leader=f"M{_three(spot[0])} {_three(spot[1])}L{_three(x)} {_three(y)}",
                dot_x=_three(x),
                dot_y=_three(y),
                dot_r=_three(0.22 * radius),
            )
        )
    return tuple(points)


def _free_spot(
    x: float,
    y: float,
    radius: float,
    inside: tuple[float, float, float, float],
    placed: list[tuple[float, float]],
) -> tuple[float, float]:
    best, best_room = (x, y), -1.0
    for step in _STEPS:
        for turn in _TURNS:
            spot = (
                x + step * radius * math.cos(turn * math.pi),
                y + step * radius * math.sin(turn * math.pi),
            )
            if not (inside[0] <= spot[0] <= inside[2] and inside[1] <= spot[1] <= inside[3]):
                continue
            room = min((math.dist(spot, other) for other in placed), default=math.inf)
            if room >= 2.3 * radius:
                return spot
            if room > best_room:
                best, best_room = spot, room
    return best


def _three(value: float) -> str:
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown
