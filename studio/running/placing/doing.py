"""One placing job from claim to proposed plan: what a worker does."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any

from django.db import InterfaceError, OperationalError, connection, transaction

from classroom.files.full_disk import is_full
from classroom.files.full_disk import words as full_disk
from studio.core.confining import Ended
from studio.core.cutting import Job, Plan, plan_to_json
from studio.core.placing import (
    apart as search_apart,
)
from studio.core.placing import place
from studio.core.verifying import faults
from studio.models import PlacingJob
from studio.running.closing import ENDING
from studio.steps.plans import lease
from studio.steps.plans.propose import propose_answer

logger = logging.getLogger(__name__)

CURVE_POINTS = 120
SPARE_SECONDS = 0.4  # a lease need not be renewed more often than this
FIRST_PLAN_SECONDS = 600.0
"""A stored plan's first round may take as long on a busy machine, whatever was asked for: pieces
left out only because the clock ran fast would have to be placed again."""


DATABASE_AWAY = (OperationalError, InterfaceError)
PAUSES = (1, 2, 4, 8, 8, 8)
"""Seconds between tries to store a plan while the database does not answer, or has no room."""
PAUSES_FOR_WORDS = (1, 2, 4)
FAULT = (
    "Placing stopped because of a fault in the program, which has been written down for those "
    "who look after it. Try again, or place fewer projects together."
)


def run(
    job_pk: int,
    worker: str,
    *,
    again: Callable[[int], object] | None = None,
    rounds: int | None = None,
    apart: bool = False,
) -> bool:
    """Do the job if it is free; True when its plan was finished by this very call.

    A worker that is told to end puts the job back and calls `again` with it. With `rounds` as
    many are made instead of the plan's seconds, however long that takes. With `apart` the search
    is a process of its own. Raises what the database raises when it stays away: the job keeps its
    lease, and the reaper queues it again; at its next look, where the search's process died.
    """
    job = lease.claim(job_pk, worker)
    if job is None:
        return False
    try:
        asked = job.plan.asked
        watch = Watch(job, asked, worker)
        plan = (search_apart.place if apart else place)(
            asked,
            seconds=job.plan.seconds if rounds is None else None,
            seed=job.plan.seed,
            rounds=rounds,
            on_progress=watch.report,
            first_within=FIRST_PLAN_SECONDS,
        )
        if not watch.must_end:
            return conclude_in_time(job, asked, plan, watch)
    except Ended:
        pass
    except search_apart.Died:
        if not ENDING.is_set():  # else whoever ends us may have ended it first
            lease.let_go(job_pk, worker)
            raise
    except Exception as error:
        # Asked before anything else: a database tells of a full disk by the very errors of one
        # that is away.
        if is_full(error):
            why = full_disk()
        elif isinstance(error, DATABASE_AWAY):
            raise
        else:
            why = FAULT
        # Whatever went wrong is written down here for us, and in plain words for the class.
        logger.exception("placing job %s", job_pk)
        end_in_words(job_pk, worker, why)
        return False
    put_back(job_pk, worker, again)
    return False


def end_in_words(job_pk: int, worker: str, why: str) -> None:
    """The job has failed. Where not even the words find room on the disk it waits without an
    attempt counted, and the reaper queues it again after some minutes."""
    for pause in PAUSES_FOR_WORDS:
        try:
            lease.fail(job_pk, worker, why)
        except DATABASE_AWAY as error:
            if not is_full(error):
                raise
            logger.warning("job %s: no room to write down why it failed", job_pk)
            ENDING.wait(pause)
        else:
            return
    lease.give_back(job_pk, worker)


def put_back(job_pk: int, worker: str, again: Callable[[int], object] | None) -> None:
    """The next worker begins it anew: by rounds and seed it comes to the same plan."""
    with transaction.atomic():
        if lease.give_back(job_pk, worker) and again is not None:
            transaction.on_commit(lambda: again(job_pk))
    logger.info("placing job %s is put back, as this worker ends", job_pk)


class Watch:
    """Reports progress: every better plan that the judge accepts, and signs of life between."""

    def __init__(self, job: PlacingJob, asked: Job, worker: str) -> None:
        self.job, self.asked, self.worker = job, asked, worker
        self.began = time.monotonic()
        self.renewed = self.began
        self.best: tuple[int, float] | None = None
        self.curve: list[list[float]] = []
        self.plan: Plan | None = None
        self.must_end = False

    def report(self, plan: Plan) -> bool:
        """Called by the engine; False tells it to stop."""
        if ENDING.is_set():
            self.must_end = True
            return False
        progress = self._progress(plan)
        now = time.monotonic()
        if progress is None and now - self.renewed < SPARE_SECONDS:
            return True
        self.renewed = now
        try:
            word = lease.report(self.job.pk, self.worker, progress)
        except DATABASE_AWAY as away:
            # The search goes on: a database that restarts is back before the plan is stored,
            # and whether the job is still ours is asked then.
            logger.warning("job %s: the database does not answer (%s)", self.job.pk, away)
            connection.close()
            return True
        if word is lease.Word.STOP:
            return self.plan is None  # there is nothing to keep yet; the first plan is near
        return word is lease.Word.GO_ON

    def _progress(self, plan: Plan) -> dict[str, Any] | None:
        """What to store when the plan is better than the last one and without fault."""
        key = (len(plan.unplaced), plan.measures.cost)
        if not plan.placements or (self.best is not None and key >= self.best):
            return None
        wrong = faults(self.asked, plan.placements, plan.cuts)
        if wrong:
            logger.error("job %s: the engine reported a faulty plan: %s", self.job.pk, wrong[0])
            return None
        self.best, self.plan = key, plan
        seconds = round(time.monotonic() - self.began, 2)
        self.curve.append([seconds, round(plan.measures.cost, 4)])
        del self.curve[1 : max(1, len(self.curve) - CURVE_POINTS)]
        return {"plan": plan_to_json(plan), "curve": self.curve, "seconds": seconds}


def conclude_in_time(job: PlacingJob, asked: Job, plan: Plan, watch: Watch) -> bool:
    """`conclude`, tried again while the database does not answer."""
    for pause in PAUSES:
        try:
            return conclude(job, asked, plan, watch)
        except DATABASE_AWAY as away:
            logger.warning("job %s: the plan is not stored yet (%s)", job.pk, away)
            connection.close()
            ENDING.wait(pause)
    return conclude(job, asked, plan, watch)


def conclude(job: PlacingJob, asked: Job, plan: Plan, watch: Watch) -> bool:
    """Store the plan, judged once more, and its quotes: all of it or nothing."""
    wrong = faults(asked, plan.placements, plan.cuts)
    if wrong:
        logger.error("job %s: the engine ended with a faulty plan: %s", job.pk, wrong[0])
        if watch.plan is None:
            lease.fail(
                job.pk,
                watch.worker,
                "No plan was found that passes the check. Try again, or with fewer projects.",
            )
            return False
        plan = watch.plan
    progress = {
        "plan": None,  # the answer has it
        "curve": watch.curve,
        "seconds": round(time.monotonic() - watch.began, 2),
    }
    with transaction.atomic():
        if not lease.finish(job.pk, watch.worker, progress=progress):
            return False  # the lease was lost, or the plan dropped: another's word counts
        return propose_answer(job.plan, plan_to_json(plan))
