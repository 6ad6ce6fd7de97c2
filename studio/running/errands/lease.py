"""Who may do an errand right now? The only writers of an errand's state.

Every function is one conditional update: it says whether the row was still as expected. A clock
that is put right is met as in `studio/steps/plans/lease.py`: a lease further off than a lease is
long, either way, says nothing, and is lent a last one from now.
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.models import Errand

from .files import drop_input

logger = logging.getLogger(__name__)

MOST_ATTEMPTS = 3
QUEUED, RUNNING = Errand.State.QUEUED, Errand.State.RUNNING
DONE, FAILED, OFF = Errand.State.DONE, Errand.State.FAILED, Errand.State.OFF


NO_ROOM = "no_room"
"""In the outcome of an errand that waits again because the disk was full."""

LENT = "lent_until"
"""In the outcome of an errand under way: the end of the last lease that was lent."""


def lease_length() -> dt.timedelta:
    return dt.timedelta(seconds=settings.ERRAND_LEASE_SECONDS)


def lease_end(now: dt.datetime) -> dt.datetime:
    return now + lease_length()


def to_look_at(now: dt.datetime) -> Q:
    """Errands whose lease is over, or was written on another clock."""
    return Q(state=RUNNING) & (
        Q(lease_until__lte=now) | Q(lease_until__gt=lease_end(now) + lease_length())
    )


def is_over(errand: Errand, now: dt.datetime) -> bool:
    """Whether an errand of `to_look_at` has lost its worker; else it is lent a last lease."""
    until = errand.lease_until
    if until is None or until > now:
        return False
    return until > now - lease_length() or errand.outcome.get(LENT) == until.isoformat()


def lend(errand: Errand, now: dt.datetime) -> bool:
    """A last lease for an errand whose lease says nothing; its worker, if it lives, renews it."""
    until = lease_end(now)
    return bool(_as_found(errand).update(lease_until=until, outcome={LENT: until.isoformat()}))


def claim(errand_pk: int, worker: str) -> Errand | None:
    """Take the errand up for `worker`; None when it is over, or somebody else is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | Q(
        state=RUNNING, lease_until__gt=now - lease_length(), lease_until__lte=now
    )
    taken = Errand.objects.filter(free, pk=errand_pk, attempts__lt=MOST_ATTEMPTS).update(
        state=RUNNING,
        worker=worker,
        attempts=F("attempts") + 1,
        lease_until=lease_end(now),
        started_at=Coalesce(F("started_at"), now),
    )
    if not taken:
        return None
    return Errand.objects.select_related("owner__school").get(pk=errand_pk)


def renew(errand_pk: int, worker: str) -> bool:
    """A sign of life; False when the errand is no longer this worker's."""
    mine = Errand.objects.filter(pk=errand_pk, worker=worker, state=RUNNING)
    return bool(mine.update(lease_until=lease_end(timezone.now())))


def conclude(errand_pk: int, worker: str, state: str = DONE) -> bool:
    """The errand is over, inside the caller's transaction; False when `worker` has no say."""
    mine = Errand.objects.filter(pk=errand_pk, worker=worker, state=RUNNING)
    return bool(mine.update(state=state, ended_at=timezone.now(), lease_until=None))


def give_back(errand_pk: int, worker: str, **outcome: Any) -> bool:
    """A worker that ends, or has no room on the disk, puts the errand back as if it had not
    begun, inside the caller's transaction; neither is a failed attempt."""
    mine = Errand.objects.filter(pk=errand_pk, worker=worker, state=RUNNING)
    return bool(
        mine.update(
            state=QUEUED,
            worker="",
            lease_until=None,
            attempts=F("attempts") - 1,
            queued_at=timezone.now(),
            outcome=outcome,
        )
    )


@transaction.atomic
def call_off(errand: Errand) -> bool:
    """Its owner does not want it any more; a worker that is at it will change nothing."""
    found = Errand.objects.filter(pk=errand.pk, state__in=[QUEUED, RUNNING])
    if not found.update(state=OFF, ended_at=timezone.now(), lease_until=None):
        return False
    drop_input(errand)
    return True


def note_seen(errand: Errand) -> None:
    """Its owner has looked at what came of it, so no page need speak of it any more."""
    Errand.objects.filter(pk=errand.pk, seen_at=None).update(seen_at=timezone.now())


def queue_again(errand: Errand) -> bool:
    """The worker that had it has gone."""
    return bool(
        _as_found(errand).update(
            state=QUEUED, worker="", lease_until=None, queued_at=timezone.now()
        )
    )


def give_up(errand: Errand) -> bool:
    """It was begun often enough, or nobody has begun it for hours."""
    return bool(_as_found(errand).update(state=FAILED, lease_until=None, ended_at=timezone.now()))


def _as_found(errand: Errand):  # type: ignore[no-untyped-def]
    return Errand.objects.filter(
        pk=errand.pk, state=errand.state, worker=errand.worker, lease_until=errand.lease_until
    )


@contextmanager
def renewed(errand: Errand, worker: str) -> Iterator[None]:
    """The lease is renewed beside the work, which gives no signs of life itself.

    A thread that dies with its process is what tells a killed worker from a slow file.
    """
    if settings.ERRANDS_AT_ONCE:
        yield
        return
    ended = threading.Event()
    keeper = threading.Thread(
        target=_keep_renewing, args=(errand.pk, worker, ended), name="lease", daemon=True
    )
    keeper.start()
    try:
        yield
    finally:
        ended.set()
        keeper.join(timeout=10)


def _keep_renewing(errand_pk: int, worker: str, ended: threading.Event) -> None:
    try:
        while not ended.wait(settings.ERRAND_LEASE_SECONDS / 3):
            try:
                if not renew(errand_pk, worker):
                    return
            except (DatabaseError, InterfaceError):
                logger.warning("errand %s: its lease could not be renewed just now", errand_pk)
                connection.close()
    finally:
        connection.close()
