"""The numbers of a sawing order, each where its line begins and none on another. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass

from studio.core.picturing.sawing_order import SawingOrder
from studio.prints.paper.paths import Frame, num

ORDER_RADIUS_MM = 2.4
APART_MM = 2 * ORDER_RADIUS_MM + 0.2
AROUND = (
    (0.0, 0.0),
    *(
        (
            ring * APART_MM * math.cos(math.tau * k / 12),
            ring * APART_MM * math.sin(math.tau * k / 12),
        )
        for ring in (0.6, 1.0, 1.5, 2.0, 3.0)
        for k in range(12)
    ),
)
"""Places for a number, nearest first."""


@dataclass(frozen=True, slots=True)
class Start:
    """The number of a turn of the saw, where it begins."""

    number: int
    x: str
    y: str
    text_y: str
    size: str
    radius: str
    lead: str  # from the number to where sawing begins, when it stands beside


def starts_of(order: SawingOrder, frame: Frame) -> list[Start]:
    """Numbers where sawing begins; one that would lie on another stands beside, with a line."""
    placed: list[tuple[float, float]] = []
    found = []
    for line in order.lines:
        x, y = frame.xy(line.start.x, line.start.y)
        at = next(
            (
                (x + dx, y + dy)
                for dx, dy in AROUND
                if all(math.dist((x + dx, y + dy), other) >= APART_MM for other in placed)
            ),
            (x, y),
        )
        placed.append(at)
        size = 2.9 if line.number < 10 else 2.3
        found.append(
            Start(
                line.number,
                num(at[0]),
                num(at[1]),
                num(at[1] + 0.36 * size),
                num(size),
                num(ORDER_RADIUS_MM),
                "" if at == (x, y) else f"M{num(x)} {num(y)}L{num(at[0])} {num(at[1])}",
            )
        )
    return found
