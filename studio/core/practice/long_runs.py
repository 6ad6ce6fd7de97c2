"""What the engine found for practice sheets that no dissection solves, in runs of 90 seconds.

Made by `place(sheet.job, seconds=90, seed=…)` of the engine's version told; as many rounds with
the same seed make the same placements again. Lengths are millimetres, turns degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

Laid = tuple[str, int, bool, float, float, float]
"""Piece, copy, whether mirrored, turn, and shift along x and y."""


@dataclass(frozen=True, slots=True)
class LongRun:
    """How an answer was found, and where its pieces lie on the sheet's one stock piece."""

    seed: int
    rounds: int
    engine: str
    laid: tuple[Laid, ...]


LONG_RUNS: Final = {
    "shoal": LongRun(
        seed=1,
        rounds=592,
        engine="10",
        laid=(
            ("fish", 0, False, 270.0, 37.105293, 45.0),
            ("fish", 1, True, 300.493221, 14.373825, 38.703996),
            ("fish", 2, True, 183.967496, 20.478657, 9.861078),
            ("drop", 0, True, 66.36096, 18.826906, 57.98121),
            ("drop", 1, False, 24.226428, 5.960521, 27.396496),
        ),
    ),
    "leaves": LongRun(
        seed=1,
        rounds=542,
        engine="10",
        laid=(
            ("ring", 0, False, 157.046422, 87.823127, 54.987934),
            ("leaf", 0, True, 291.288885, 119.895295, 45.902027),
            ("leaf", 1, False, 22.368887, 110.497002, 10.243228),
            ("leaf", 2, True, 355.308683, 106.609868, 27.137235),
            ("leaf", 3, False, 205.120994, 83.879501, 10.688277),
            ("disc", 0, False, 20.617962, 74.794346, 25.725857),
            ("drop", 0, True, 125.539444, 91.24601, 50.186488),
            ("drop", 1, False, 154.834202, 81.669085, 56.995575),
        ),
    ),
    "harbour": LongRun(
        seed=1,
        rounds=198,
        engine="10",
        laid=(
            ("ring", 0, False, 322.913061, 36.032319, 50.520759),
            ("boat", 0, True, 225.01134, 74.910133, 62.086227),
            ("boat", 1, False, 44.788827, 63.843474, 89.922476),
            ("tag", 0, False, 269.979283, 8.011792, 42.571034),
            ("tag", 1, True, 177.820596, 24.192502, 93.78584),
            ("fish", 0, False, 45.671755, 61.666965, 37.653819),
            ("fish", 1, True, 222.006545, 72.554542, 23.629366),
            ("fish", 2, False, 326.610165, 37.582962, 15.514828),
            ("buoy", 0, True, 270.0, 15.0, 9.002261),
            ("buoy", 1, False, 270.0, 15.0, 76.022157),
            ("leaf", 0, True, 23.867264, 44.669817, 78.874654),
            ("leaf", 1, True, 30.525341, 74.140494, 8.413794),
        ),
    ),
}
