"""Compiling the search's inner loops: once per machine where the cache can be written."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])

UNCOUNTED: dict[str, Any] = {"_nrt": False}
"""An option that numba has but does not advertise; an upgrade without it is loud, not slow."""

_plans_warm = threading.Event()
_warm = threading.Event()
_lock = threading.Lock()
_helper: threading.Thread | None = None


def compiled(function: F) -> F:
    """`function` compiled without holding the interpreter's lock, kept on disk where possible.

    NUMBA_CACHE_DIR says where; without it, beside the source or in the user's own cache. Where
    none can be written, every process compiles for itself.

    Arrays are lent by the caller and not counted: counting them at every call, across threads,
    took three quarters of the search's time. So nothing compiled may make an array (numba says
    so when it compiles); room for what it needs is handed in.
    """
    return _compiled(function, fastmath=False)


def woven(function: F) -> F:
    """The same, woven into its callers: handing over tuples of arrays takes longer than work."""
    return _compiled(function, fastmath=False, forceinline=True)


def compiled_sum(function: F) -> F:
    """The same for a plain sum, which may be added up in any order so that it goes faster."""
    return _compiled(function, fastmath=True)


def _compiled(function: F, *, fastmath: bool, forceinline: bool = False) -> F:
    import numba  # half a second: only when the search is first asked for

    def jit(*, cache: bool) -> F:
        decorate = numba.njit(
            cache=cache,
            nogil=True,
            fastmath=fastmath,
            error_model="numpy",
            forceinline=forceinline,
            **UNCOUNTED,
        )
        return cast(F, decorate(function))

    try:
        return jit(cache=True)
    except RuntimeError:  # no place to keep the compiled code
        return jit(cache=False)


def is_warm(*, strips: bool = True) -> bool:
    """Whether this process has the compiled loops at hand; all but those of `strips` come first."""
    return _warm.is_set() if strips else _plans_warm.is_set()


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
        from .separating import improve
        from .strips import rounds as strips

        improve.rehearse()
        _plans_warm.set()
        strips.rehearse()
        _warm.set()
