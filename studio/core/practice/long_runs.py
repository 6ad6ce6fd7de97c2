"""What the engine found for practice sheets that no dissection solves, in runs of minutes.

The best of two or three runs of `place(sheet.job, seconds=…, seed=…)`, 60 to 100 s each; as many
rounds with the same seed and engine make the same placements again. Lengths are millimetres,
turns degrees.
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
        seed=2,
        rounds=58,
        engine="10",
        laid=(
            ("fish", 0, False, 87.062061, 9.76655, 20.389094),
            ("fish", 1, False, 183.470454, 20.002187, 54.26143),
            ("fish", 2, False, 266.47333, 36.851979, 27.723661),
            ("drop", 0, True, 180.697864, 24.135755, 33.568897),
            ("drop", 1, True, 7.497938, 22.369543, 13.140694),
        ),
    ),
    "leaves": LongRun(
        seed=1,
        rounds=263,
        engine="10",
        laid=(
            ("ring", 0, False, 157.046422, 87.804153, 54.987934),
            ("leaf", 0, True, 291.288885, 119.895295, 45.902027),
            ("leaf", 1, False, 22.243424, 110.483712, 10.224985),
            ("leaf", 2, True, 355.308683, 106.619441, 27.126643),
            ("leaf", 3, False, 205.120994, 83.860527, 10.688277),
            ("disc", 0, False, 20.617962, 74.775372, 25.725857),
            ("drop", 0, True, 125.539444, 91.227036, 50.186488),
            ("drop", 1, True, 175.127169, 82.341634, 55.247788),
        ),
    ),
    "harbour": LongRun(
        seed=2,
        rounds=251,
        engine="10",
        laid=(
            ("boat", 0, True, 293.410111, 32.376282, 37.259767),
            ("boat", 1, False, 270.0, 13.2, 65.240065),
            ("tag", 0, True, 180.434203, 24.043741, 96.791422),
            ("tag", 1, True, 180.0, 40.843014, 8.0),
            ("fish", 0, True, 343.273713, 46.717548, 54.203556),
            ("fish", 1, False, 90.0, 10.221671, 20.0),
            ("buoy", 1, True, 270.0, 27.0, 78.640065),
            ("ring", 0, False, 95.294118, 63.176457, 77.702218),
            ("buoy", 0, False, 90.0, 51.06245, 27.413084),
            ("fish", 2, False, 90.0, 75.573339, 20.0),
            ("leaf", 0, False, 271.745997, 56.351604, 77.463645),
            ("leaf", 1, False, 271.745997, 67.346961, 76.513372),
        ),
    ),
}
