"""Good-pattern help for a stored pattern: what is offered, and doing it when the student asks.

Nothing is ever changed unasked, and nothing offered blocks handing in. A mend is a change like
any other of `studio.steps.patterns.correct`, so it is undone there too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any, Final

from django.core.cache import cache

from classroom.figures.rounding import told_mm
from classroom.models import User
from classroom.papers.turns import IN_THE_WEB
from classroom.refusals import Refused
from studio.core.mending import CODES, Mend, is_quick, mends, together
from studio.models import Pattern

from .correct import correct, undo, version_of

MENDING_VERSION: Final = 2
"""Raise it when the same drawing is to get other advice, so that none is kept from before."""
WHY: Final = "mend-"
FOLLOWS: Final = "mend-follows"
_KEPT_SECONDS: Final = 24 * 3600
_GONE: Final = (
    "The drawing has changed meanwhile, so this mend no longer fits. Look at what is offered now."
)
_DONE_WORDS: Final = {
    "straight": "sides straightened",
    "square": "corners made square",
    "parallel": "sides made parallel",
    "circle": "made a circle",
    "ellipse": "made an ellipse",
    "symmetric": "one half mirrored",
    "smooth": "curves smoothed",
}


def known_or_quick(pattern: Pattern) -> bool:
    """Whether `offered` answers without keeping anybody waiting."""
    return cache.get(_name(pattern)) is not None or is_quick(pattern.traced)


def offered(pattern: Pattern) -> tuple[Mend, ...]:
    """What could be neater in the pattern as it stands now; worked out once for each state.

    Of a large drawing by turns: raises Busy where too many wait for theirs.
    """
    name = _name(pattern)
    found: tuple[Mend, ...] | None = cache.get(name)
    if found is not None:
        return found
    if is_quick(pattern.traced):
        return _worked_out(pattern, name)
    with IN_THE_WEB.turn(pattern.project.seat.student_id):
        found = cache.get(name)  # by somebody who had the turn before
        return _worked_out(pattern, name) if found is None else found


def _worked_out(pattern: Pattern, name: str) -> tuple[Mend, ...]:
    limits = pattern.project.brief.limits
    found = mends(pattern.traced, pattern.relabels, limits, _by_hand(pattern))
    cache.set(name, found, _KEPT_SECONDS)
    return found


def _name(pattern: Pattern) -> str:
    limits = pattern.project.brief.limits
    told = json.dumps([version_of(pattern), asdict(limits)], sort_keys=True)
    stamp = hashlib.sha256(told.encode()).hexdigest()[:24]
    return f"mends-{MENDING_VERSION}-{pattern.pk}-{stamp}"


def do_mend(pattern: Pattern, key: str, *, acting: User) -> Pattern:
    """Put the offered mend of that key on. Pressing twice is the same as once.

    Answers as `correct` does. Raises Refused when it is not offered (any more).
    """
    if _newest_key(pattern) == key:
        return pattern
    mend = next((each for each in offered(pattern) if each.key == key), None)
    if mend is None:
        raise Refused(_GONE)
    return _put_on(pattern, [mend], key, acting=acting)


def do_all(pattern: Pattern, code: str, *, acting: User) -> Pattern:
    """Put every offered mend of one kind on, as one change. Of two for one line the first.

    Answers and raises as `do_mend` does.
    """
    if code not in CODES:
        raise Refused(_GONE)
    wanted = [each for each in offered(pattern) if each.code == code]
    if not wanted and _newest_key(pattern).startswith(f"all-{code}-"):
        return pattern
    if not wanted:
        raise Refused(_GONE)
    key = f"all-{code}-{version_of(pattern)}"
    limits = pattern.project.brief.limits
    chosen = together(pattern.traced, pattern.relabels, limits, wanted)
    return _put_on(pattern, chosen, key, acting=acting)


def undo_mend(pattern: Pattern, *, acting: User) -> Pattern:
    """Take the newest change off, when it is a mend; the page that offers this shows no other."""
    if newest_mend(pattern) is None:
        raise Refused("The newest change of this pattern is no mend. Undo it where you made it.")
    return undo(pattern, acting=acting, seen=version_of(pattern))


def newest_mend(pattern: Pattern) -> str | None:
    """What the newest change did, in words; None when it was no mend."""
    newest: list[dict[str, Any]] = []
    for entry in reversed(pattern.changes):
        newest.append(entry)
        if not entry.get("more"):
            break
    words = _words(reversed(newest))
    return "; ".join(words) if words and len(_mended(newest)) else None


def mended(pattern: Pattern) -> list[str]:
    """Every mend that is in the pattern now, in order, in words for student and teacher."""
    return _words(pattern.changes)


def _put_on(pattern: Pattern, chosen: Sequence[Mend], key: str, *, acting: User) -> Pattern:
    most = max(mend.moved_mm for mend in chosen)
    done = ", ".join(mend.done for mend in chosen[:4])
    more = f" and {len(chosen) - 4} more" if len(chosen) > 4 else ""
    return correct(
        pattern,
        [change for mend in chosen for change in mend.changes],
        acting=acting,
        seen=version_of(pattern),
        key=key,
        text=f"neatened pattern {pattern.number}: {done}{more}; moved {told_mm(most)} mm at most",
    )


def _by_hand(pattern: Pattern) -> frozenset[str]:
    """Lines that were mended once were drawn by a hand, though they tremble no more."""
    return frozenset(entry["line"] for entry in _mended(pattern.changes))


def _mended(entries: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        entry
        for entry in entries
        if str(entry.get("why", "")).startswith(WHY) and entry["why"] != FOLLOWS
    ]


def _words(entries: Iterable[dict[str, Any]]) -> list[str]:
    told = (
        f"line {entry['line']}: {_DONE_WORDS.get(entry['why'].removeprefix(WHY), 'neatened')}"
        for entry in _mended(entries)
    )
    return list(dict.fromkeys(told))


def _newest_key(pattern: Pattern) -> str:
    return str(pattern.changes[-1].get("key", "")) if pattern.changes else ""
