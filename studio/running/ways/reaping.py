"""Ways whose worker has gone: queued again, or given up with a sentence after three attempts.

Runs beside every worker, from `manage.py reap`, and whenever somebody looks at the plan.
"""

from __future__ import annotations

import datetime as dt
import logging

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from studio.models import CutPlan, WayTry
from studio.running.naming import place_of
from studio.running.placing.reaping import close_task_row
from studio.steps.plans import way_words as words
from studio.steps.plans.ways import lease
from studio.steps.plans.ways.ask import queue

logger = logging.getLogger(__name__)

FORGOTTEN_AFTER = dt.timedelta(minutes=5)
"""One that nobody has begun for so long is queued once more: the queue may have lost it."""
AT_A_TIME = 100


def reap(only_of: int | None = None) -> int:
    """Queue again, or give up, every way whose lease is over; how many there were.

    `only_of` looks at those of one plan (its pk). Several reapers at once are harmless.
    """
    now = timezone.now()
    rows = WayTry.objects.defer("job", "answer")
    if only_of is not None:
        rows = rows.filter(plan=only_of)
    found = sum(_lost(row) for row in rows.filter(pk__in=lease.lost(now)))
    waiting = rows.filter(state=lease.QUEUED, plan__state=CutPlan.State.PROPOSED)
    for row in waiting.filter(
        Q(queued_at__lte=now - FORGOTTEN_AFTER) | Q(queued_at__gt=now + FORGOTTEN_AFTER)
    ).order_by("pk")[:AT_A_TIME]:
        with transaction.atomic():
            if lease.wake(row, now) and row.queued_at <= now:
                queue(row)
                found += 1
    return found


def take_over(process: int) -> int:
    """What this machine's dead process was at. Whoever calls this has seen the process end."""
    left = WayTry.objects.filter(
        state=lease.RUNNING, worker__startswith=f"{place_of(process)}/", lease_until__isnull=False
    )
    return sum(_lost(row) for row in left.defer("job", "answer"))


def _lost(row: WayTry) -> bool:
    with transaction.atomic():
        if row.attempts >= lease.MOST_ATTEMPTS:
            gone = lease.give_up(row, words.LOST)
        else:
            gone = lease.queue_again(row)
            if gone:
                queue(row)
        if gone:
            close_task_row(row.worker)
            logger.warning("way %s: %s went away", row.pk, row.worker)
    return gone
