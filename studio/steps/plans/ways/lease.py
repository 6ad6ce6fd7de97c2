"""Who may work on a way right now? The only writers of a try's state.

Every function is one conditional update: it says whether the row was still as expected. The lease
is renewed by every word of the search; one that was written on another clock is over.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from studio.models import CutPlan, WayTry
from studio.steps.plans.lease import lease_end, lease_length

MOST_ATTEMPTS = 3
QUEUED, RUNNING = WayTry.State.QUEUED, WayTry.State.RUNNING
DONE, FAILED = WayTry.State.DONE, WayTry.State.FAILED


def claim(try_pk: int, worker: str) -> WayTry | None:
    """Take the way up for `worker`; None when it is over, not needed any more, or somebody else
    is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | Q(state=RUNNING) & _over(now)
    wanted = CutPlan.objects.filter(state=CutPlan.State.PROPOSED)
    taken = WayTry.objects.filter(
        free, pk=try_pk, attempts__lt=MOST_ATTEMPTS, plan__in=wanted
    ).update(state=RUNNING, worker=worker, attempts=F("attempts") + 1, lease_until=lease_end(now))
    if not taken:
        return None
    return WayTry.objects.select_related("plan__course__school", "plan__metal").get(pk=try_pk)


def report(try_pk: int, worker: str) -> bool:
    """Renew the lease; whether it is still this worker's, and the plan still undecided."""
    wanted = CutPlan.objects.filter(state=CutPlan.State.PROPOSED)
    mine = _mine(try_pk, worker).filter(plan__in=wanted)
    return bool(mine.update(lease_until=lease_end(timezone.now())))


def finish(try_pk: int, worker: str, **what: Any) -> bool:
    """It is worked out; False when `worker` has no say."""
    return bool(
        _mine(try_pk, worker).update(
            state=DONE, ended_at=timezone.now(), lease_until=None, told="", **what
        )
    )


def fail(try_pk: int, worker: str, why: str) -> bool:
    """It could not be worked out; `why` is a word of `way_words`."""
    return bool(
        _mine(try_pk, worker).update(
            state=FAILED, ended_at=timezone.now(), lease_until=None, told=why
        )
    )


def give_back(try_pk: int, worker: str) -> bool:
    """A worker that is told to end puts it back as if it had not begun."""
    return bool(
        _mine(try_pk, worker).update(
            state=QUEUED,
            worker="",
            lease_until=None,
            attempts=F("attempts") - 1,
            queued_at=timezone.now(),
        )
    )


def let_go(try_pk: int, worker: str) -> bool:
    """The lease is over now, and the attempt counts: the reaper decides what comes next."""
    return bool(_mine(try_pk, worker).update(lease_until=timezone.now()))


def lost(now: dt.datetime) -> QuerySet[WayTry]:
    """Those whose worker has gone."""
    return WayTry.objects.filter(_over(now), state=RUNNING)


def queue_again(row: WayTry) -> bool:
    """The worker that had it has gone."""
    return bool(
        _as_found(row).update(state=QUEUED, worker="", lease_until=None, queued_at=timezone.now())
    )


def give_up(row: WayTry, why: str) -> bool:
    """It was begun often enough."""
    return bool(
        _as_found(row).update(state=FAILED, ended_at=timezone.now(), lease_until=None, told=why)
    )


def wake(row: WayTry, now: dt.datetime) -> bool:
    """Whether this caller is the one to queue a waiting one once more."""
    same = WayTry.objects.filter(pk=row.pk, state=QUEUED, queued_at=row.queued_at)
    return bool(same.update(queued_at=now))


def begin_anew(row: WayTry) -> bool:
    """One that had failed is asked for again."""
    same = WayTry.objects.filter(pk=row.pk, state=FAILED, ended_at=row.ended_at)
    return bool(
        same.update(
            state=QUEUED,
            attempts=0,
            worker="",
            told="",
            ended_at=None,
            queued_at=timezone.now(),
        )
    )


def _mine(try_pk: int, worker: str) -> QuerySet[WayTry]:
    return WayTry.objects.filter(pk=try_pk, state=RUNNING, worker=worker)


def _as_found(row: WayTry) -> QuerySet[WayTry]:
    return WayTry.objects.filter(
        pk=row.pk, state=row.state, worker=row.worker, lease_until=row.lease_until
    )


def _over(now: dt.datetime) -> Q:
    """The lease is over, or so far off that it was written on another clock."""
    return Q(lease_until__lte=now) | Q(lease_until__gt=now + 2 * lease_length())
