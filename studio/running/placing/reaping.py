"""Jobs whose worker has gone: queued again, or given up with a sentence after three attempts.

Runs beside every worker, from `manage.py reap`, and whenever somebody looks at a plan that
should be moving: nobody has to be awake for a job to be taken up again.
"""

from __future__ import annotations

import datetime as dt
import logging
import uuid

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS

from classroom.models import record
from studio.models import CutPlan, PlacingJob
from studio.running.naming import place_of
from studio.steps.plans import lease
from studio.steps.plans.lease import FAILED, MOST_ATTEMPTS, QUEUED, RUNNING
from studio.tasks import place_plan

logger = logging.getLogger(__name__)

FORGOTTEN_AFTER = dt.timedelta(minutes=5)
"""A job that nobody has claimed for so long is queued once more: the queue may have lost it."""

GIVEN_UP = (
    f"Placing was begun {MOST_ATTEMPTS} times and never came to its end: what worked on it went "
    "away each time. Keep the best plan so far if there is one, or try again with fewer projects."
)


def reap(only: int | None = None) -> int:
    """Queue again, or give up, every job whose lease is over; how many there were.

    `only` looks at one job. Several reapers at once are harmless: each row changes once.
    """
    now = timezone.now()
    jobs = PlacingJob.objects.all() if only is None else PlacingJob.objects.filter(pk=only)
    found = 0
    for job in jobs.filter(lease.to_look_at(now)):
        if not lease.is_over(job, now):
            lease.lend(job, now)
        else:
            found += _give_up(job) if job.attempts >= MOST_ATTEMPTS else _queue_again(job)
    # Queued later than now: the clock has been put back since, and the wait is counted anew.
    waiting = jobs.filter(state=QUEUED, plan__state=CutPlan.State.PLACING)
    for job in waiting.filter(
        Q(queued_at__lte=now - FORGOTTEN_AFTER) | Q(queued_at__gt=now + FORGOTTEN_AFTER)
    ):
        same = PlacingJob.objects.filter(pk=job.pk, state=QUEUED, queued_at=job.queued_at)
        with transaction.atomic():
            if same.update(queued_at=now) and job.queued_at <= now:
                _enqueue(job.pk)
                found += 1
    return found


def take_over(process: int) -> int:
    """Queue again at once what this machine's dead process was at; how many jobs there were.

    Whoever calls this has seen the process end, so nobody has to wait for its lease.
    """
    left = PlacingJob.objects.filter(
        state=RUNNING, worker__startswith=f"{place_of(process)}/", lease_until__isnull=False
    )
    return sum(
        _give_up(job) if job.attempts >= MOST_ATTEMPTS else _queue_again(job) for job in left
    )


def _queue_again(job: PlacingJob) -> bool:
    with transaction.atomic():
        if not lease.as_found(job).update(
            state=QUEUED, worker="", lease_until=None, queued_at=timezone.now()
        ):
            return False
        close_task_row(job.worker)
        _enqueue(job.pk)
    logger.warning("placing job %s: %s went away; queued again", job.pk, job.worker)
    return True


def _give_up(job: PlacingJob) -> bool:
    with transaction.atomic():
        if not lease.as_found(job).update(
            state=FAILED, lease_until=None, ended_at=timezone.now(), error=GIVEN_UP
        ):
            return False
        close_task_row(job.worker)
        plan = CutPlan.objects.select_related("course__school").get(pk=job.plan_id)
        record(
            None,
            "placing-given-up",
            plan,
            f"gave up placing after {job.attempts} attempts",
            school=plan.course.school,
        )
    logger.error("placing job %s: given up after %s attempts", job.pk, job.attempts)
    return True


def _enqueue(job_pk: int) -> None:
    transaction.on_commit(lambda: place_plan.enqueue(job_pk))


def close_task_row(worker: str) -> None:
    """The database queue leaves the task of a killed worker running for ever; close it."""
    if settings.TASKS["default"]["BACKEND"] != "django_tasks_db.DatabaseBackend":
        return
    from django_tasks_db.models import DBTaskResult

    try:
        task_id = uuid.UUID(worker.rsplit("/", 1)[-1])
    except ValueError:
        return
    DBTaskResult.objects.filter(
        pk=task_id, status="RUNNING", backend_name=DEFAULT_TASK_BACKEND_ALIAS
    ).update(
        status="FAILED",
        finished_at=timezone.now(),
        exception_class_path="builtins.ConnectionAbortedError",
        traceback="The worker went away; the job was queued again.",
    )
