"""Slow work of people, done outside the web processes: reading what was uploaded, longer PDFs.

A request that asks for such work writes an `Errand` down and is answered at once; a worker does
the errand from the queue "desk". Each person may have a few open, and the house so many in all;
beyond that the request is refused as busy. The page that waits shows how many are before it and
goes on by itself.

    starting   bounds, the row and its file, the queue
    lease      claim, renew, conclude, call off: the only writers of an errand's state
    doing      one errand from claim to outcome; what each kind does stands in
               patterns, metal_pieces and papers
    reaping    errands whose worker has gone
    clearing   what is no longer needed

As with placing jobs (`studio.running.placing`) all of it is conditional updates, so it holds on
SQLite and PostgreSQL with any number of workers: what an errand changes is written in the very
transaction in which its worker still holds the lease, hence once.
"""

from __future__ import annotations


def look_after() -> int:
    """Take up what a lost worker left, and clear out what is over; how many were taken up.

    For a worker's regular look and for `manage.py reap`; several at once are harmless.
    """
    from .clearing import clear_out
    from .reaping import reap

    found = reap()
    clear_out()
    return found


def take_over(process: int) -> int:
    """Take up at once what this machine's dead process was at; how many errands there were."""
    from .reaping import take_over as taken_over

    return taken_over(process)
