"""Laying pieces on metal so that metal and sawing cost least.

`place` is the one entry; what goes in and comes out stands in `studio.core.cutting`. `search`
makes rounds, `laying` makes first plans, `separating` better ones, `strips` goes a way of its own
for one rectangle; `apart` runs all of it in a process that stays. The search is imported when it
is first asked for. README.md tells how it thinks; `trials` proves it and is no part of it.
"""

from __future__ import annotations

from collections.abc import Callable

from studio.core.cutting import Job, Plan

from .version import ENGINE_VERSION, WITHOUT_COMPILING

__all__ = ["ENGINE_VERSION", "WITHOUT_COMPILING", "place", "warm_up", "warm_up_aside"]


def place(
    job: Job,
    *,
    seconds: float | None = None,
    seed: int = 1,
    workers: int = 1,
    rounds: int | None = None,
    on_progress: Callable[[Plan], bool] | None = None,
    first_within: float = 0.0,
) -> Plan:
    """The best valid plan found within `seconds` (kept to one second more, whatever the job).

    With `rounds` the search also ends after that many rounds; the plan's own `rounds` says how
    many were completed, and asking for as many again gives the same plan (those above
    `WITHOUT_COMPILING` were made without the compiled search, see `warm_up`). With `rounds` alone
    no clock ends it: a busy machine takes longer and finds the same. Raises ValueError where
    neither is given. Where `seconds` are over before the first plan is whole, that one goes on
    until `first_within` seconds from the beginning.
    `on_progress` is called with every better plan and about twice a second besides; before
    the first plan is complete it gets one with nothing placed. When it returns False the
    search ends with the best plan so far. The judge has found no fault with any plan handed out.
    """
    from studio.core.placing.search import Search

    return Search(job, seconds, seed, workers, rounds, on_progress, first_within).run()


def warm_up_aside() -> None:
    """Begin to warm up in a thread of its own and come back at once."""
    from .warming import warm_up_aside as compile_aside

    compile_aside()


def warm_up() -> None:
    """Make the compiled search ready in this process: at best at once, from the cache.

    Compiling takes half a minute once per machine, where NUMBA_CACHE_DIR or the source folder
    can be written. Without this `place` begins at once, compiles aside and goes on when ready.
    """
    from .warming import warm_up as compile_all

    compile_all()
