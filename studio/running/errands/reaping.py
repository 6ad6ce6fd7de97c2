"""Errands whose worker has gone: queued again, or given up with a sentence after three attempts.

Runs beside every worker, from `manage.py reap`, and whenever the person who waits looks.
"""

from __future__ import annotations

import datetime as dt
import logging

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext

from classroom.files.full_disk import words as full_disk
from classroom.files.waiting_files import KEPT
from classroom.languages import in_language
from studio.models import Errand
from studio.running.naming import place_of
from studio.running.placing.reaping import close_task_row
from studio.tasks import do_errand

from . import lease
from .files import drop_input
from .keeping import keep_for_the_form

logger = logging.getLogger(__name__)

FORGOTTEN_AFTER = dt.timedelta(minutes=5)
"""An errand that nobody has claimed for so long is queued once more: the queue may have lost it.
A longer queue makes a second message of it, which whoever comes second finds done."""


def reap(only: int | None = None) -> int:
    """Queue again, or give up, every errand whose lease is over; how many there were."""
    now = timezone.now()
    errands = Errand.objects.select_related("owner")
    if only is not None:
        errands = errands.filter(pk=only)
    found = 0
    for errand in errands.filter(lease.to_look_at(now)):
        if lease.is_over(errand, now):
            found += _lost(errand)
        else:
            lease.lend(errand, now)
    # Queued later than now: the clock has been put back since, and the wait is counted anew.
    long_ago = Q(queued_at__lte=now - FORGOTTEN_AFTER) | Q(queued_at__gt=now + FORGOTTEN_AFTER)
    for errand in errands.filter(long_ago, state=lease.QUEUED):
        found += _give_up(errand) if errand.asked_at <= now - KEPT else _remember(errand, now)
    return found


def take_over(process: int) -> int:
    """What this machine's dead process was at. Whoever calls this has seen the process end."""
    left = Errand.objects.select_related("owner").filter(
        state=lease.RUNNING, worker__startswith=f"{place_of(process)}/"
    )
    return sum(_lost(errand) for errand in left)


def _lost(errand: Errand) -> bool:
    spent = errand.attempts >= lease.MOST_ATTEMPTS
    return _give_up(errand) if spent else _queue_again(errand)


def _queue_again(errand: Errand) -> bool:
    with transaction.atomic():
        if not lease.queue_again(errand):
            return False
        close_task_row(errand.worker)
        transaction.on_commit(lambda: do_errand.enqueue(errand.pk))
    logger.warning("errand %s: %s went away; queued again", errand.pk, errand.worker)
    return True


def _remember(errand: Errand, now: dt.datetime) -> bool:
    same = Errand.objects.filter(pk=errand.pk, state=lease.QUEUED, queued_at=errand.queued_at)
    with transaction.atomic():
        if not same.update(queued_at=now):
            return False
        transaction.on_commit(lambda: do_errand.enqueue(errand.pk))
    return True


def _give_up(errand: Errand) -> bool:
    with in_language(errand.asked.get("language", "en")), transaction.atomic():
        if not lease.give_up(errand):
            return False
        close_task_row(errand.worker)
        if errand.outcome.get(lease.NO_ROOM):
            why = full_disk()
        else:
            why = gettext(
                "This could not be done: the worker went away each time. Try again; if it happens "
                "again, try with a smaller file, or tell your teacher."
            )
        outcome = {"refused": why, "on": "", "kept": keep_for_the_form(errand)}
        Errand.objects.filter(pk=errand.pk).update(outcome=outcome)
        drop_input(errand)
    logger.error("errand %s: given up after %s attempts", errand.pk, errand.attempts)
    return True
