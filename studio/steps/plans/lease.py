"""Who may work on a placing job right now? The only writers of a job's state.

Every function is one conditional update: it says whether the row was still as expected.

A lease is a time on the wall's clock, and that clock is put right at times: by an hour where it
was wrong, or by whoever runs a worker on a second machine. So a lease that ended only just now is
over, but one that is further off than a lease is long, either way, says nothing: it is lent a last
one from now. A living worker renews that at its next report; a dead one does not, and then it is
over.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Any

from django.conf import settings
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.models import CutPlan, PlacingJob

MOST_ATTEMPTS = 3
RUNNING, QUEUED = PlacingJob.State.RUNNING, PlacingJob.State.QUEUED
DONE, FAILED = PlacingJob.State.DONE, PlacingJob.State.FAILED


LENT = "lent_until"
"""In a job's progress: the end of the last lease that was lent, lest one is lent for ever."""


def lease_length() -> dt.timedelta:
    return dt.timedelta(seconds=settings.PLACING_LEASE_SECONDS)


def lease_end(now: dt.datetime) -> dt.datetime:
    return now + lease_length()


def ended_just_now(now: dt.datetime) -> Q:
    return Q(state=RUNNING, lease_until__gt=now - lease_length(), lease_until__lte=now)


def to_look_at(now: dt.datetime) -> Q:
    """Jobs whose lease is over, or was written on another clock."""
    return Q(state=RUNNING) & (
        Q(lease_until__lte=now) | Q(lease_until__gt=lease_end(now) + lease_length())
    )


def is_over(job: PlacingJob, now: dt.datetime) -> bool:
    """Whether a job of `to_look_at` has lost its worker; else it is lent a last lease."""
    until = job.lease_until
    if until is None or until > now:
        return False
    return until > now - lease_length() or job.progress.get(LENT) == until.isoformat()


def as_found(job: PlacingJob) -> QuerySet[PlacingJob]:
    """The job's row while nobody has claimed, renewed or ended it since it was read."""
    return PlacingJob.objects.filter(
        pk=job.pk, state=RUNNING, worker=job.worker, lease_until=job.lease_until
    )


def lend(job: PlacingJob, now: dt.datetime) -> bool:
    """A last lease for a job whose lease says nothing; its worker, if it lives, renews it."""
    until = lease_end(now)
    marked = {**job.progress, LENT: until.isoformat()}
    return bool(as_found(job).update(lease_until=until, progress=marked))


def claim(job_pk: int, worker: str) -> PlacingJob | None:
    """Take the job up for `worker`; None when it is done, or somebody else is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | ended_just_now(now)
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


def give_back(job_pk: int, worker: str) -> bool:
    """A worker that ends puts the job back as if it had not begun, inside the caller's
    transaction; being told to end is no failed attempt."""
    return bool(
        PlacingJob.objects.filter(pk=job_pk, worker=worker, state=RUNNING).update(
            state=QUEUED,
            worker="",
            lease_until=None,
            attempts=F("attempts") - 1,
            queued_at=timezone.now(),
        )
    )


def let_go(job_pk: int, worker: str) -> bool:
    """The lease is over now, and the attempt counts: the reaper decides what comes next."""
    return bool(
        PlacingJob.objects.filter(pk=job_pk, worker=worker, state=RUNNING).update(
            lease_until=timezone.now()
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
