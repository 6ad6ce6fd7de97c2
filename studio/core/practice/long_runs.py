from dataclasses import dataclass

from studio.core.cutting import Placement


@dataclass(frozen=True, slots=True)
class LongRun:
    seed: int
    rounds: int
    engine: str
    placements: tuple[Placement, ...]


LONG_RUNS = {k: LongRun(1, 0, "10", ()) for k in ("shoal", "leaves", "harbour")}
