"""Searches whose worker has gone: queued again, or given up with a sentence after two attempts.

Runs beside every worker, from `manage.py reap`, and whenever somebody looks at one.
"""

from __future__ import annotations

import datetime as dt
import logging
from functools import partial

from django.db import transaction
from django.utils import timezone

from studio.models import TrialLayout
from studio.running.naming import place_of
from studio.running.placing.reaping import close_task_row
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.trial import may_start, start, start_waiting
from studio.tasks import lay_trial

from .doing import lost_words, queue_what_would_change

logger = logging.getLogger(__name__)

FORGOTTEN_AFTER = dt.timedelta(minutes=5)
"""A trial that nobody has begun for so long is queued once more: the queue may have lost it."""
AT_A_TIME = 100


def reap(only: int | None = None) -> int:
    """Queue again, or give up, every search whose lease is over; how many there were."""
    now = timezone.now()
    left = lease.lost(now).select_related("asked_by__school")
    found = sum(_lost(trial) for trial in (left if only is None else left.filter(pk=only)))
    if only is None:
        found += sum(_lost_others(trial) for trial in lease.lost_others(now))
        forgotten = TrialLayout.objects.filter(
            state=lease.QUEUED, asked_at__lte=now - FORGOTTEN_AFTER
        )
        for trial in forgotten.order_by("pk")[:AT_A_TIME]:
            if may_start(trial) and lease.wake(trial):
                start(trial)
                found += 1
    return found


def take_over(process: int) -> int:
    """What this machine's dead process was at. Whoever calls this has seen the process end."""
    its_own = TrialLayout.objects.filter(worker__startswith=f"{place_of(process)}/")
    left = its_own.filter(state=lease.RUNNING).select_related("asked_by__school")
    found = sum(_lost(trial) for trial in left)
    others = its_own.filter(state=lease.DONE, lease_until__isnull=False)
    return found + sum(_lost_others(trial) for trial in others)


def _lost(trial: TrialLayout) -> bool:
    with transaction.atomic():
        if trial.attempts >= lease.MOST_ATTEMPTS:
            gone = lease.give_up(trial, lost_words())
            if gone:
                start_waiting(trial.asked_by)
        else:
            gone = lease.queue_again(trial)
            if gone:
                transaction.on_commit(partial(lay_trial.enqueue, trial.pk))
        if gone:
            close_task_row(trial.worker)
            logger.warning("trial %s: %s went away", trial.pk, trial.worker)
    return gone


def _lost_others(trial: TrialLayout) -> bool:
    with transaction.atomic():
        gone = lease.let_go_of_lost_others(trial)
        if gone:
            close_task_row(trial.worker)
            queue_what_would_change(trial.pk)
            logger.warning("trial %s: %s went away from what would change", trial.pk, trial.worker)
    return gone
