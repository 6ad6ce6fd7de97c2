"""Warm is a process that has the judge's compiled loop at hand; a cold one judges more slowly.

The answers are the same to the last digit, so that nobody has to ask which it was.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Sides = tuple[float, float, float, float]


class Loops(NamedTuple):
    """What `upright` has compiled."""

    upright: Callable[[Array, Array, Array, float], tuple[float, Sides]]
    may_beat: Callable[[Array, float, float], bool]


_lock = threading.Lock()
_helper: threading.Thread | None = None
_loops: list[Loops] = []


def warm_loops() -> Loops | None:
    """The compiled search for upright rectangles, where this process has it."""
    return _loops[0] if _loops else None


def warm_up() -> None:
    """Compile the judge's loop, or fetch it from the cache, by trying it on a square."""
    with _lock:
        if _loops:
            return
        # numba takes half a second to import: only where moves are judged, or plans searched for
        from studio.core.verifying.upright import may_beat, upright

        # across: least, most, first end; along: first end, slope, least, most; for four edges
        square = np.array(
            [[0.0, 0, 1, 0], [0, 1, 1, 1], [0, 0, 1, 1], [0, 1, 1, 0]] + [[0.0, 0, 0, 0]] * 3
        )
        upright(square, square, np.array([0.0, 1.0]), 0.0)
        may_beat(np.array([[0.0, 0, 1, 0], [1, 0, 1, 1], [1, 1, 0, 1], [0, 1, 0, 0]]), 0.1, 2.0)
        _loops.append(Loops(upright, may_beat))


def warm_up_aside() -> None:
    """Begin to warm up without waiting; nothing happens where that is under way already."""
    global _helper
    if not _loops and (_helper is None or not _helper.is_alive()):
        _helper = threading.Thread(target=warm_up, daemon=True)
        _helper.start()
