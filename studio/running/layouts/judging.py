"""The judge of the layout table: it keeps in mind what it has found of the layouts looked at last.

A judgement after a move looks at what was moved alone, if the process judged the state before it.
Where it did not, the judgement is a cold one: of those one is made at a time, so that a class that
opens its tables at once does not take every thread of the process.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from django.utils.translation import gettext as _

from classroom.refusals import Busy
from studio.core.cutting import Cut, Job, Placement
from studio.core.offcuts.rack_offcuts import on_the_rack
from studio.core.verifying import Judgement, Shown, Watch, measurable, warm_up_aside
from studio.models import Layout
from studio.models.read_once import keep_read

MOST_KEPT: Final = 32
"""Layouts that a process keeps in mind; a watch of forty traced pieces has some megabytes."""
LONGEST_WAIT_SECONDS: Final = 8.0


Answer = tuple[Judgement, Shown]
"""What is said, and what of it is drawn."""


@dataclass
class _Kept:
    job: Job
    watch: Watch
    lock: threading.Lock = field(default_factory=threading.Lock)
    newest: tuple[tuple[Placement, ...], tuple[Cut, ...], bool, Answer] | None = None
    said: object = None  # the JSON that the job was read from


_kept: OrderedDict[str, _Kept] = OrderedDict()
_choosing = threading.Lock()
_cold = threading.Semaphore(1)


def judge(
    of: Layout | str, job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> Judgement:
    """What the judge says of these placements and parting cuts, whoever made them.

    `of` says whose memory is asked: a layout, or a name of the caller's own (one for each person
    and job). Raises Busy where so many are asked for that this one would wait too long.
    """
    return look(of, job, placements, cuts)[0]


def look(
    of: Layout | str, job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> Answer:
    """As `judge`, with what of it is drawn."""
    return _looked(of, job, placements, cuts, on_rack=False)


def look_at_metal(
    of: Layout | str, job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> Answer:
    """As `look`, with offcuts as the rack would get them, and areas and strip told of those: what
    a plan with these placements says."""
    return _looked(of, job, placements, cuts, on_rack=True)


def _looked(
    of: Layout | str,
    job: Job,
    placements: Sequence[Placement],
    cuts: Sequence[Cut],
    *,
    on_rack: bool,
) -> Answer:
    one = _watch(of if isinstance(of, str) else _name(of), job)
    if not isinstance(of, str):
        one.said = of.job
    if not one.lock.acquire(timeout=LONGEST_WAIT_SECONDS):
        raise _busy()
    try:
        if one.newest is not None:
            return _judged(one, placements, cuts, on_rack)
        if not _cold.acquire(timeout=LONGEST_WAIT_SECONDS):
            raise _busy()
        try:
            return _judged(one, placements, cuts, on_rack)
        finally:
            _cold.release()
    finally:
        one.lock.release()


def start() -> None:
    """Called where a process begins to answer pages: the judge warms up beside the first."""
    warm_up_aside()


def forget() -> None:
    """Whatever is kept in mind; the next judgements are cold ones."""
    with _choosing:
        _kept.clear()


def remember(layout: Layout) -> None:
    """Give a layout that was loaded its job as it was read before, where it is the same."""
    with _choosing:
        one = _kept.get(_name(layout))
    if one is not None and one.said == layout.job:
        keep_read(layout, "job", layout.job, one.job)


def _judged(
    one: _Kept, placements: Sequence[Placement], cuts: Sequence[Cut], on_rack: bool
) -> Answer:
    where, parted = tuple(placements), tuple(cuts)
    # asked twice about the same, a watch would forget what the next answer is made of
    if one.newest is None or one.newest[:3] != (where, parted, on_rack):
        found = one.watch.judge(where, parted)
        if on_rack:
            lying, kept = measurable(one.job, where), one.watch.kept
            told, offcuts = on_the_rack(one.job, lying, found.measures, found.offcuts, kept, parted)
            found = replace(found, measures=told, offcuts=offcuts)
        one.newest = where, parted, on_rack, (found, one.watch.show(where, found))
    return one.newest[3]


def _name(layout: Layout) -> str:
    return f"layout-{layout.pk}"


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
