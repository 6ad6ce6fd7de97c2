"""Laying pieces on metal so that metal and sawing cost least.

`place` is the one entry; what goes in and comes out stands in `studio.core.cutting`. `search`
makes rounds, `laying` makes first plans, `separating` better ones, `strips` goes a way of its own
for one rectangle, `parting` parts metal by straight cuts; `apart` runs all of it in a process
that stays. The search is imported when it is first asked for. README.md tells how it thinks;
`trials` proves it and is no part of it.
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
    """The best valid plan that can be found for a job in a given time or number of rounds.

    Parameters
    ----------
    job
        Stock, wanted pieces and prices; lengths in mm, areas in mm², turns in degrees.
    seconds
        The clock: kept to one second more, whatever the job. A valid plan exists long before.
    rounds
        The effort: the search also ends after that many rounds, and the plan's own `rounds` says
        how many were completed. Asking for as many again gives the same plan (those above
        `WITHOUT_COMPILING` were made without the compiled search, see `warm_up`). With `rounds`
        alone no clock ends it: a busy machine takes longer and finds the same.
    seed
        Chance for the search; the same job, seed and rounds give the same placements.
    workers
        Threads, at most two.
    on_progress
        Called with every better plan and about twice a second besides; before the first plan is
        complete it gets one with nothing placed. When it returns False the search ends with the
        best plan so far.
    first_within
        Seconds from the beginning: where `seconds` are over before the first plan is whole, that
        one goes on until then.

    Returns
    -------
    Plan
        The judge has found no fault with it, nor with any plan handed out on the way. What found
        no place stands in `unplaced`, with the reason.

    Raises
    ------
    ValueError
        Neither `seconds` nor `rounds` is given.
    JobError
        No straight cuts part the groups that stand on one stock piece (`fixed`) already.

    Examples
    --------
    Two tags on a sheet, with a saw blade of 0.3 mm. Their long edges lie on each other or on the
    sheet's own, where one cut does for two or none is needed:

    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Stock, Wanted
    >>> sheet = Stock("S1", box(0, 0, 60, 40), price_per_mm2=0.0003)
    >>> job = Job((sheet,), (Wanted("tag", box(0, 0, 30, 12), count=2),))
    >>> plan = place(job, rounds=1)
    >>> plan.status, len(plan.placements)
    ('complete', 2)
    >>> round(plan.measures.piece_area_mm2, 1)
    720.0
    >>> plan.measures.free_edge_mm + plan.measures.shared_line_mm > 60
    True
    >>> too_large = Job((sheet,), (Wanted("plate", box(0, 0, 70, 50)),))
    >>> [left.why for left in place(too_large, rounds=1).unplaced]
    ['larger than any metal offered: it fits on none, even alone']
    """
    if job.parting is not None:
        from studio.core.placing.parting.search import PartedSearch

        return PartedSearch(
            job, job.parting, seconds, seed, workers, rounds, on_progress, first_within
        ).run()
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
