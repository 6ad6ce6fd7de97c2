"""One other way of a proposed plan from claim to what it comes to: what a worker does."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace

from django.db import connection, transaction

from classroom.files.full_disk import is_full
from studio.core.confining import Ended
from studio.core.cutting import Job, Plan, job_from_json, plan_to_json
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.placing import ENGINE_VERSION, place
from studio.core.placing import apart as search_apart
from studio.core.verifying import faults
from studio.models import CutPlan, WayTry
from studio.running.closing import ENDING
from studio.running.placing.doing import DATABASE_AWAY
from studio.steps.plans import way_words as words
from studio.steps.plans.ways import lease
from studio.steps.plans.ways.ask import shares_of, what_it_comes_to

logger = logging.getLogger(__name__)

FIRST_PLAN_SECONDS = 120.0
"""On a busy machine the first plan may take so long: pieces are not left out for the clock."""


def run(
    try_pk: int,
    worker: str,
    *,
    again: Callable[[int], object] | None = None,
    rounds: int | None = None,
    apart: bool = False,
) -> bool:
    """Do it if it is free; True when it was worked out by this very call.

    A worker that is told to end puts it back and calls `again` with it. With `rounds` as many are
    made instead of the plan's seconds; with `apart` the search is a process of its own. Raises what
    the database raises when it stays away, and Died where the search's process did.
    """
    row = lease.claim(try_pk, worker)
    if row is None:
        return False
    try:
        return _work_out(row, worker, rounds=rounds, apart=apart)
    except Ended:
        pass
    except search_apart.Died:
        if not ENDING.is_set():  # else whoever ends us may have ended it first
            lease.let_go(try_pk, worker)
            raise
    except Exception as error:
        if isinstance(error, DATABASE_AWAY) and not is_full(error):
            raise
        logger.exception("way %s", try_pk)
        lease.fail(try_pk, worker, words.DISK if is_full(error) else words.FAULT)
        return False
    _put_back(try_pk, worker, again)
    return False


def _work_out(row: WayTry, worker: str, *, rounds: int | None, apart: bool) -> bool:
    plan = row.plan
    job = job_from_json(row.job)
    watch = _Watch(row.pk, worker)
    found = (search_apart.place if apart else place)(
        _begun(job, row),
        seconds=plan.seconds if rounds is None else None,
        seed=plan.seed,
        rounds=rounds,
        on_progress=watch.report,
        first_within=FIRST_PLAN_SECONDS,
    )
    if ENDING.is_set():
        raise Ended
    if watch.lost:
        return False
    wrong = faults(job, found.placements, found.cuts)
    if wrong:
        logger.error("way %s: the engine ended with a faulty plan: %s", row.pk, wrong[0])
        lease.fail(row.pk, worker, words.NONE_PASSES)
        return False
    answer = with_rack_offcuts(job, found)
    plan.engine_version = ENGINE_VERSION
    comes_to = what_it_comes_to(plan, job, answer, shares_of(plan), row.way)
    return lease.finish(row.pk, worker, answer=plan_to_json(answer), **comes_to)


def _begun(job: Job, row: WayTry) -> Job:
    """Undivided metal can be laid as it is parted, so the search begins there: passing on is never
    said to take more than the plan does."""
    own: Plan | None = row.plan.laid
    if row.way != CutPlan.Way.PASSED or own is None:
        return job
    fixed = {(p.piece, p.copy) for p in job.fixed}
    start = tuple(p for p in own.placements if (p.piece, p.copy) not in fixed)
    return replace(job, start=start)


class _Watch:
    """Signs of life while the search runs; it stops where nobody needs it any more."""

    def __init__(self, try_pk: int, worker: str) -> None:
        self.try_pk, self.worker, self.lost = try_pk, worker, False

    def report(self, _plan: Plan) -> bool:
        """Called by the engine; False tells it to stop."""
        if ENDING.is_set():
            return False
        try:
            self.lost = not lease.report(self.try_pk, self.worker)
        except DATABASE_AWAY as away:
            logger.warning("way %s: the database does not answer (%s)", self.try_pk, away)
            connection.close()
        return not self.lost


def _put_back(try_pk: int, worker: str, again: Callable[[int], object] | None) -> None:
    with transaction.atomic():
        if lease.give_back(try_pk, worker) and again is not None:
            transaction.on_commit(lambda: again(try_pk))
    logger.info("way %s is put back, as this worker ends", try_pk)
