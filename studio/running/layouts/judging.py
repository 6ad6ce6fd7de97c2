"""The judge of the layout table: it keeps in mind what it has found of the layouts looked at last.

A judgement after a move looks at what was moved alone, if the process judged the state before it.
Where it did not, the judgement is a cold one: of those one is made at a time, so that a class that
opens its tables at once does not take every thread of the process.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from django.utils.translation import gettext as _

from classroom.refusals import Busy
from studio.core.cutting import Job, Placement
from studio.core.verifying import Judgement, Shown, Watch, warm_up_aside
from studio.models import Layout

MOST_KEPT: Final = 32
"""Layouts that a process keeps in mind; a watch of forty traced pieces has some megabytes."""
LONGEST_WAIT_SECONDS: Final = 8.0


@dataclass
class _Kept:
    job: Job
    watch: Watch
    lock: threading.Lock = field(default_factory=threading.Lock)
    is_warm: bool = False


_kept: OrderedDict[str, _Kept] = OrderedDict()
_choosing = threading.Lock()
_cold = threading.Semaphore(1)


def judge(of: Layout | str, job: Job, placements: Sequence[Placement]) -> Judgement:
    """What the judge says of these placements, whoever made them.

    `of` says whose memory is asked: a layout, or a name of the caller's own (one for each person
    and job). Raises Busy where so many are asked for that this one would wait too long.
    """
    return look(of, job, placements)[0]


def look(
    of: Layout | str, job: Job, placements: Sequence[Placement]
) -> tuple[Judgement, Shown]:
    """As `judge`, with what of it is drawn."""
    one = _watch(of if isinstance(of, str) else f"layout-{of.pk}", job)
    if not one.lock.acquire(timeout=LONGEST_WAIT_SECONDS):
        raise _busy()
    try:
        if one.is_warm:
            return _judged(one, placements)
        if not _cold.acquire(timeout=LONGEST_WAIT_SECONDS):
            raise _busy()
        try:
            return _judged(one, placements)
        finally:
            _cold.release()
    finally:
        one.lock.release()


def start() -> None:
    """Called where a process begins to answer pages: the judge warms up beside the first of them."""
    warm_up_aside()


def forget() -> None:
    """Whatever is kept in mind; the next judgements are cold ones."""
    with _choosing:
        _kept.clear()


def _judged(one: _Kept, placements: Sequence[Placement]) -> tuple[Judgement, Shown]:
    found = one.watch.judge(placements)
    shown = one.watch.show(placements, found)
    one.is_warm = True
    return found, shown


def _watch(name: str, job: Job) -> _Kept:
    with _choosing:
        one = _kept.get(name)
        if one is None or not (one.job is job or one.job == job):
            one = _kept[name] = _Kept(job, Watch(job))
        _kept.move_to_end(name)
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
        return one


def _busy() -> Busy:
    return Busy(_("Many layouts are being judged just now. Try in a moment."))
