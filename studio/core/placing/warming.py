"""Warm is a process that has the compiled loops at hand: those of plans first, then of strips."""

from __future__ import annotations

import threading

from studio.core import verifying

_plans_warm = threading.Event()
_parting_warm = threading.Event()
_warm = threading.Event()
_lock = threading.Lock()
_helper: threading.Thread | None = None


def is_warm(*, strips: bool = True) -> bool:
    """Whether this process has the compiled loops at hand; all but those of `strips` come first."""
    return _warm.is_set() if strips else _plans_warm.is_set()


def is_warm_for_parting() -> bool:
    """Whether this process has all that parted plans ask for."""
    return _parting_warm.is_set()


def warm_up_aside() -> None:
    """Begin to warm up without waiting; nothing happens where that is under way already."""
    global _helper
    if not _warm.is_set() and (_helper is None or not _helper.is_alive()):
        _helper = threading.Thread(target=warm_up, daemon=True)
        _helper.start()


def warm_up() -> None:
    """Compile everything, or fetch it from the cache, by solving tiny jobs of each form."""
    with _lock:
        if _warm.is_set():
            return
        # numba takes half a second to import: only when the loops are asked for
        from . import taking_in
        from .separating import improve, short_strips
        from .strips import rounds

        improve.rehearse()
        taking_in.rehearse()
        _plans_warm.set()
        short_strips.rehearse()
        _parting_warm.set()
        rounds.rehearse()
        _warm.set()
    # no plan waits for the judge's; where moves are judged they are then in the cache
    verifying.warm_up()
