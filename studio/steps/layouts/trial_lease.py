"""Who may work on a trial layout right now? The only writers of a trial's state.

Every function is one conditional update: it says whether the row was still as expected. A search
of this kind takes a second or a few, so its lease is short and never renewed; a clock that is put
right costs at most one attempt of the two.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.models import TrialLayout

MOST_ATTEMPTS = 2
QUEUED, RUNNING = TrialLayout.State.QUEUED, TrialLayout.State.RUNNING
DONE, FAILED = TrialLayout.State.DONE, TrialLayout.State.FAILED


def lease_length() -> dt.timedelta:
    """Three times what the longest of these searches takes on a busy machine."""
    return dt.timedelta(seconds=2 * settings.PLACING_LEASE_SECONDS)


def claim(trial_pk: int, worker: str) -> TrialLayout | None:
    """Take the trial up for `worker`; None when it is over, gone, or somebody else is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | Q(state=RUNNING) & _over(now)
    taken = TrialLayout.objects.filter(free, pk=trial_pk, attempts__lt=MOST_ATTEMPTS).update(
        state=RUNNING,
        worker=worker,
        attempts=F("attempts") + 1,
        lease_until=now + lease_length(),
        started_at=Coalesce(F("started_at"), now),
    )
    return _whole(trial_pk) if taken else None


def claim_others(trial_pk: int, worker: str) -> TrialLayout | None:
    """Take up what something else would change, of a trial that is laid."""
    now = timezone.now()
    done = TrialLayout.objects.filter(Q(lease_until=None) | _over(now), pk=trial_pk, state=DONE)
    taken = done.update(worker=worker, attempts=F("attempts") + 1, lease_until=now + lease_length())
    return _whole(trial_pk) if taken else None


def let_go_of_others(trial_pk: int, worker: str, **what: Any) -> bool:
    mine = TrialLayout.objects.filter(pk=trial_pk, state=DONE, worker=worker)
    return bool(mine.update(lease_until=None, attempts=0, **what))


def finish(trial_pk: int, worker: str, **what: Any) -> bool:
    """It is laid, inside the caller's transaction; False when `worker` has no say."""
    return bool(
        _mine(trial_pk, worker).update(
            state=DONE, ended_at=timezone.now(), lease_until=None, attempts=0, error="", **what
        )
    )


def fail(trial_pk: int, worker: str, sentence: str) -> bool:
    """It cannot be laid; the sentence is shown to whoever asked."""
    return bool(
        _mine(trial_pk, worker).update(
            state=FAILED, ended_at=timezone.now(), lease_until=None, error=sentence[:300]
        )
    )


def give_back(trial_pk: int, worker: str) -> bool:
    """A worker that is told to end puts it back as if it had not begun."""
    return bool(
        _mine(trial_pk, worker).update(
            state=QUEUED, worker="", lease_until=None, attempts=F("attempts") - 1
        )
    )


def lost(now: dt.datetime) -> QuerySet[TrialLayout]:
    """Those whose worker has gone."""
    return TrialLayout.objects.filter(_over(now), state=RUNNING)


def lost_others(now: dt.datetime) -> QuerySet[TrialLayout]:
    """Trials that are laid, whose worker has gone while it looked at what would change them."""
    return TrialLayout.objects.filter(_over(now), state=DONE)


def let_go_of_lost_others(trial: TrialLayout) -> bool:
    """Somebody else may look at it; a question that was begun often enough is left out."""
    what: dict[str, Any] = {"worker": "", "lease_until": None}
    if trial.attempts >= MOST_ATTEMPTS:
        todo = trial.others.get("todo", [])[1:]
        what |= {"attempts": 0, "others": trial.others | {"todo": todo}}
    return bool(_as_found(trial).update(**what))


def queue_again(trial: TrialLayout) -> bool:
    """The worker that had it has gone."""
    return bool(
        _as_found(trial).update(state=QUEUED, worker="", lease_until=None, asked_at=timezone.now())
    )


def give_up(trial: TrialLayout, sentence: str) -> bool:
    """It was begun often enough."""
    return bool(
        _as_found(trial).update(
            state=FAILED, ended_at=timezone.now(), lease_until=None, error=sentence[:300]
        )
    )


def wake(trial: TrialLayout) -> bool:
    """Whether this caller is the one to queue a waiting trial once more."""
    now = timezone.now()
    same = TrialLayout.objects.filter(pk=trial.pk, state=QUEUED, asked_at=trial.asked_at)
    return bool(same.update(asked_at=now))


def begin_anew(trial: TrialLayout) -> bool:
    """One that had failed is asked for again."""
    same = TrialLayout.objects.filter(pk=trial.pk, state=FAILED, ended_at=trial.ended_at)
    return bool(
        same.update(
            state=QUEUED, attempts=0, error="", worker="", asked_at=timezone.now(), ended_at=None
        )
    )


def _whole(trial_pk: int) -> TrialLayout | None:
    """None where a newer state of the pattern has taken its place meanwhile."""
    return (
        TrialLayout.objects.select_related(
            "pattern__project__brief__course__school",
            "pattern__project__metal",
            "layout__project__brief__course__school",
            "layout__plan__course__school",
            "asked_by__school",
        )
        .filter(pk=trial_pk)
        .first()
    )


def _mine(trial_pk: int, worker: str) -> QuerySet[TrialLayout]:
    return TrialLayout.objects.filter(pk=trial_pk, state=RUNNING, worker=worker)


def _as_found(trial: TrialLayout) -> QuerySet[TrialLayout]:
    return TrialLayout.objects.filter(
        pk=trial.pk, state=trial.state, worker=trial.worker, lease_until=trial.lease_until
    )


def _over(now: dt.datetime) -> Q:
    """The lease is over, or so far off that it was written on another clock."""
    return Q(lease_until__lte=now) | Q(lease_until__gt=now + 2 * lease_length())
