"""Two lanes of a compiled search, on one thread or on two, the same whatever the clock does."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait

import numpy as np

from .kernels import Ints

LANES = 2  # always two, so that a plan can be made again
POLL_SECONDS = 0.05


def on_all_lanes(run: Callable[[int, Ints], None], workers: int, go_on: Callable[[], bool]) -> bool:
    """`run(lane, stop)` for every lane; False when `go_on` said no and they were told to stop."""
    stop = np.zeros(1, dtype=np.int64)
    with ThreadPoolExecutor(max_workers=max(1, min(workers, LANES))) as pool:
        waiting = {pool.submit(run, lane, stop) for lane in range(LANES)}
        while waiting:
            done, waiting = wait(waiting, timeout=POLL_SECONDS)
            for future in done:
                future.result()
            if not go_on():
                stop[0] = 1
    return bool(stop[0] == 0)


def lane_seed(seed: int, number: int, lane: int) -> int:
    """What a lane draws its lots from in one round; other lanes and rounds draw others."""
    return (seed * 1_000_003 + number * 101 + lane) % (2**32 - 5)
