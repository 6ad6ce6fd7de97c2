"""How long does a bench step take? This class's own times once there are enough, else a guess."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from .texts import BenchStepKind

ENOUGH: Final = 5
"""From so many times on, their middle says more than a rule of thumb."""

USUAL_MINUTES: Final[dict[BenchStepKind, int]] = {
    BenchStepKind.PREPARE: 15,
    BenchStepKind.ADHERE: 10,
    BenchStepKind.DRY: 0,
    BenchStepKind.DRILL: 15,
    BenchStepKind.SAW: 60,
    BenchStepKind.REMOVE: 10,
    BenchStepKind.FINISH: 40,
}
"""For one small piece, beside any waiting time (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class HowLong:
    """About how many minutes from start to signature, and on how many times that rests.

    `rests_on` is 0 for a rule of thumb.
    """

    minutes: int
    rests_on: int = 0

    @property
    def learned(self) -> bool:
        return self.rests_on > 0


def how_long(kind: BenchStepKind, own_minutes: Sequence[float], wait_minutes: int = 0) -> HowLong:
    """The middle of the class's own times, or common practice while they are fewer than `ENOUGH`.

    `own_minutes` are from start to signature, waiting time included; `wait_minutes` is what the
    step waits by itself.
    """
    if len(own_minutes) >= ENOUGH:
        return HowLong(max(1, round(statistics.median(own_minutes))), len(own_minutes))
    return HowLong(max(1, USUAL_MINUTES[kind] + wait_minutes))
