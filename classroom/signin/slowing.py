"""Wrong tries make the next try wait: first not at all, then longer and longer, never for ever.

Who guesses is slowed, not the account: tries are counted by what the guesser cannot change at
will, and each count pauses only those who share it. A try during a pause is not looked at, costs
no hash, and changes nothing. The rows are shared by all web processes; they are changed by
compare-and-swap, and one that has been forgotten is cleared away.

`classroom/signin/__init__.py` says which counts a try at sign-in has.
"""

from __future__ import annotations

import datetime as dt
import math
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from classroom.models import SignInCount

CLEAR_EVERY = 600.0
"""Seconds; how often a process clears away what was forgotten, while there are wrong tries."""
CLOCK_SLACK = dt.timedelta(minutes=1)
"""A row further in the future than this was written by a clock that has been set back since."""


@dataclass(frozen=True, slots=True)
class Curve:
    """How many wrong tries are free, and how the pauses after them grow (seconds)."""

    free: int
    longest: float
    forget_one_in: float
    first: float = 1.0

    @property
    def most(self) -> int:
        """The level at which the pause is the longest; higher is not counted."""
        return self.free + math.ceil(math.log2(self.longest / self.first))

    def pause(self, level: float) -> dt.timedelta:
        """What must be waited after the try that made the level."""
        over = math.floor(level + 0.5) - self.free
        if over < 0:
            return dt.timedelta(0)
        return dt.timedelta(seconds=min(self.longest, self.first * 2.0**over))

    def left_of(self, level: float, elapsed: dt.timedelta) -> float:
        """The level after a time without a wrong try."""
        return max(0.0, level - max(0.0, elapsed.total_seconds()) / self.forget_one_in)

    def forgotten_in(self, level: float) -> dt.timedelta:
        return dt.timedelta(seconds=level * self.forget_one_in + self.longest)


@dataclass(frozen=True, slots=True)
class Count:
    """One count: whose tries it holds (`key`), by which curve, and of which account if of one."""

    key: str
    curve: Curve
    account: str = ""


def key_of(*parts: object) -> str:
    """A keyed hash: a wrong try may hold a passphrase typed in the wrong field."""
    text = "\x1f".join(str(part) for part in parts)
    return salted_hmac("classroom.slowing", text, algorithm="sha256").hexdigest()[:32]


@dataclass(slots=True)
class Try:
    """One try: `begin` says whether it may be looked at, `end` what it turned out to be.

    `heeded` counts can pause it, and a wrong try is counted on them and on `told` ones. The first
    of `heeded` and all of `told` are the guesser's own and are forgotten by a right try.
    """

    heeded: Sequence[Count]
    told: Sequence[Count] = ()
    claimed: bool = False

    def begin(self) -> dt.timedelta | None:
        """How long to wait yet; None when the try may be looked at now.

        Once a count has reached its pauses, the try is counted before it is looked at, so that
        many at the same moment are one.
        """
        now = timezone.now()
        rows = _rows(self.heeded)
        longest = max(_wait(rows.get(count.key), count, now) for count in self.heeded)
        if longest > dt.timedelta(0):
            return longest
        if not any(
            count.curve.pause(rows[count.key].level) for count in self.heeded if count.key in rows
        ):
            return None
        try:
            with transaction.atomic():
                for count in sorted(self._all(), key=lambda one: one.key):
                    if not _count_once(count, rows.get(count.key), now):
                        raise _Overtaken
        except _Overtaken:
            return dt.timedelta(seconds=1)
        self.claimed = True
        return None

    def end(self, *, right: bool) -> None:
        if right:
            self._forgive()
        elif not self.claimed:
            now = timezone.now()
            with transaction.atomic():
                for count in sorted(self._all(), key=lambda one: one.key):
                    _count(count, now)
            _clear_now_and_then(now)

    def _all(self) -> list[Count]:
        return [*self.heeded, *self.told]

    def _forgive(self) -> None:
        """The slips before a right try were slips: they no longer count anywhere."""
        rows = _rows(self._all())
        if not rows:
            return  # the usual case writes nothing
        own = [self.heeded[0], *self.told]
        now = timezone.now()
        slips = max(
            (
                count.curve.left_of(rows[count.key].level, now - rows[count.key].counted_at)
                for count in own
                if count.key in rows
            ),
            default=0.0,
        )
        forgotten = {count.key for count in own}
        with transaction.atomic():
            # By key, as everywhere here: rows held in two orders would end in a deadlock.
            for count in sorted(self._all(), key=lambda one: one.key):
                if count.key in forgotten:
                    SignInCount.objects.filter(key=count.key).delete()
                elif count.key in rows and slips:
                    _take_back(count, slips, now, ends_pause=self.claimed)


def forget_account(username: str) -> None:
    """Nothing is counted against this user name any more, and no pause holds it."""
    SignInCount.objects.filter(account=account_key(username)).delete()


def account_key(username: str) -> str:
    return key_of("account", username.strip().lower())


def clear_forgotten(now: dt.datetime | None = None) -> int:
    """Delete the rows that say nothing any more; how many they were."""
    return SignInCount.objects.forgotten(now or timezone.now()).delete()[0]


class _Overtaken(Exception):
    """Another try at the same moment was counted first."""


def _rows(counts: Iterable[Count]) -> dict[str, SignInCount]:
    return SignInCount.objects.in_bulk([count.key for count in counts])


def _wait(row: SignInCount | None, count: Count, now: dt.datetime) -> dt.timedelta:
    if row is None or row.counted_at > now + CLOCK_SLACK:
        return dt.timedelta(0)
    # Bounded by the curve, whatever the clock did since.
    return min(row.free_at - now, dt.timedelta(seconds=count.curve.longest))


def _count(count: Count, now: dt.datetime) -> None:
    """Add a wrong try, however many others do so at the same moment."""
    for _ in range(50):
        if _count_once(count, SignInCount.objects.filter(key=count.key).first(), now):
            return


def _count_once(count: Count, row: SignInCount | None, now: dt.datetime) -> bool:
    """Add a wrong try to the row as it was read; False when it has changed since."""
    if row is None:
        empty = SignInCount(
            key=count.key, account=count.account, counted_at=now, free_at=now, forget_at=now
        )
        SignInCount.objects.bulk_create([empty], ignore_conflicts=True)
        row = empty
    curve = count.curve
    level = min(float(curve.most), curve.left_of(row.level, now - row.counted_at) + 1)
    return bool(
        SignInCount.objects.filter(key=count.key, turn=row.turn).update(
            level=level,
            counted_at=now,
            free_at=now + curve.pause(level),
            forget_at=now + curve.forgotten_in(level),
            turn=row.turn + 1,
        )
    )


def _take_back(count: Count, slips: float, now: dt.datetime, *, ends_pause: bool) -> None:
    for _ in range(50):
        row = SignInCount.objects.filter(key=count.key).first()
        if row is None:
            return
        level = max(0.0, count.curve.left_of(row.level, now - row.counted_at) - slips)
        free_at = now if ends_pause else row.free_at
        changed = SignInCount.objects.filter(key=count.key, turn=row.turn).update(
            level=level, counted_at=now, free_at=free_at, turn=row.turn + 1
        )
        if changed:
            return


_cleared_at = -math.inf


def _clear_now_and_then(now: dt.datetime) -> None:
    global _cleared_at
    if time.monotonic() - _cleared_at >= CLEAR_EVERY:
        _cleared_at = time.monotonic()
        clear_forgotten(now)
