"""Compiling the search's inner loops: once per machine where the cache can be written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])

UNCOUNTED: dict[str, Any] = {"_nrt": False}
"""An option that numba has but does not advertise; an upgrade without it is loud, not slow."""


def compiled(function: F) -> F:
    """`function` compiled without holding the interpreter's lock, kept on disk where possible.

    NUMBA_CACHE_DIR says where; without it, beside the source or in the user's own cache. Where
    none can be written, every process compiles for itself.

    Arrays are lent by the caller and not counted, as counting them at every call, across threads,
    takes longer than all else. So nothing compiled may make an array (numba says
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
