"""Who may work on a placing job right now? The only writers of a job's state.

Every function is one conditional update: it says whether the row was still as expected.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any

from django.conf import settings
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.models import CutPlan, PlacingJob

MOST_ATTEMPTS = 3
RUNNING, QUEUED = PlacingJob.State.RUNNING, PlacingJob.State.QUEUED
DONE, FAILED = PlacingJob.State.DONE, PlacingJob.State.FAILED


def lease_end(now: dt.datetime) -> dt.datetime:
    return now + dt.timedelta(seconds=settings.PLACING_LEASE_SECONDS)


def claim(job_pk: int, worker: str) -> PlacingJob | None:
    """Take the job up for `worker`; None when it is done, or somebody else is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | Q(state=RUNNING, lease_until__lte=now)
    # `plan__in`, not `plan__state`: a join would move every condition into a subquery, which
    # PostgreSQL does not look at again when it has waited for another worker's claim.
    wanted = CutPlan.objects.filter(state=CutPlan.State.PLACING)
    taken = PlacingJob.objects.filter(
        free, pk=job_pk, attempts__lt=MOST_ATTEMPTS, plan__in=wanted
    ).update(
        state=RUNNING,
        worker=worker,
        attempts=F("attempts") + 1,
        lease_until=lease_end(now),
        started_at=Coalesce(F("started_at"), now),
    )
    if not taken:
        return None
    return PlacingJob.objects.select_related("plan__course__school", "plan__metal").get(pk=job_pk)


class Word(StrEnum):
    """What a worker hears when it reports."""

    GO_ON = "go on"
    STOP = "stop"  # somebody wants the best plan so far, now
    LOST = "lost"  # the lease is another's, or the plan was dropped


def report(job_pk: int, worker: str, progress: dict[str, Any] | None = None) -> Word:
    """Renew the lease and store progress; the answer says whether to go on."""
    more: dict[str, Any] = {} if progress is None else {"progress": progress}
    mine = PlacingJob.objects.filter(pk=job_pk, worker=worker, state=RUNNING)
    if not mine.update(lease_until=lease_end(timezone.now()), **more):
        return Word.LOST
    return Word.STOP if mine.filter(stop_asked=True).exists() else Word.GO_ON


def finish(job_pk: int, worker: str, **outcome: Any) -> bool:
    """Mark the job done, inside the caller's transaction; False when `worker` has no say."""
    return bool(
        PlacingJob.objects.filter(pk=job_pk, worker=worker, state=RUNNING).update(
            state=DONE, ended_at=timezone.now(), lease_until=None, **outcome
        )
    )


def fail(job_pk: int, worker: str, sentence: str) -> bool:
    """The job cannot be done; the sentence is shown to the people who wait for it."""
    return bool(
        PlacingJob.objects.filter(pk=job_pk, worker=worker, state=RUNNING).update(
            state=FAILED, ended_at=timezone.now(), lease_until=None, error=sentence[:300]
        )
    )


def ask_stop(job_pk: int) -> bool:
    """Ask whoever places to stop at the next report and keep the best plan so far."""
    return bool(
        PlacingJob.objects.filter(pk=job_pk, state__in=[QUEUED, RUNNING]).update(stop_asked=True)
    )


def call_off(plan: CutPlan) -> None:
    """The plan is dropped: no worker shall take its job up or finish it."""
    PlacingJob.objects.filter(plan=plan, state__in=[QUEUED, RUNNING]).update(
        state=FAILED,
        ended_at=timezone.now(),
        lease_until=None,
        stop_asked=True,
        error="The plan was dropped before it was finished.",
    )
