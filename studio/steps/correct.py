"""A student changes the lines as read; the drawing is made and checked again at once.

Every change of lines and names stands in `Pattern.changes`, in order, so that undo takes the
newest one back whatever kind it was. Beside a change stand notes of ours: "before", the names
that it replaced, "more", that it belongs to the change before it, and "key", the page's own name
for its sending.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from classroom.models import History, User, record
from classroom.refusals import Refused
from studio.core.correcting import (
    MAX_CHANGES,
    CannotChange,
    Change,
    Join,
    Name,
    change_to_json,
    refuse_scribble,
)
from studio.models import Pattern

from .recheck import look_again, put_down
from .revising import to_change

KEY_LENGTH = 40
ONE_SITTING = dt.timedelta(minutes=30)
MADE_ELSEWHERE = (
    "This drawing has been changed meanwhile, perhaps in another window. Nothing was lost: here "
    "it is as it stands now. Make your change again if you still want it."
)


def version_of(pattern: Pattern) -> str:
    """Says of which state of the lines somebody speaks: another one after every change."""
    told = json.dumps([pattern.changes, pattern.relabels], sort_keys=True)
    return f"{len(pattern.changes)}-{hashlib.sha256(told.encode()).hexdigest()[:12]}"


def correct(
    pattern: Pattern,
    changes: Sequence[Change],
    *,
    acting: User,
    seen: str | None = None,
    key: str = "",
    text: str = "",
) -> Pattern:
    """Put these changes on, all or none; undo takes them off together.

    `seen` is the version (`version_of`) that the person looked at, None where that does not
    matter. `key` names this sending: a page that heard no answer sends again, and is answered
    as if it had been heard the first time. `text` is what the history says was done; without it
    one row says for a whole sitting that lines were corrected.

    Answers with the draft that carries the changes. Raises Refused.
    """
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        if key and mine.changes and mine.changes[-1].get("key") == key[:KEY_LENGTH]:
            return mine
        _refuse_another_state(mine, seen)
        if not changes:
            return mine
        if len(mine.changes) + len(changes) > MAX_CHANGES:
            raise Refused(
                f"This drawing has been changed {MAX_CHANGES:,} times already. Download it from "
                "its page and bring the file as a new pattern; then go on there."
            )
        entries = list(mine.changes)
        names = dict(mine.relabels)
        for number, change in enumerate(changes):
            entry = change_to_json(change) | ({"more": True} if number else {})
            before = {line: names.get(line, "") for line in _named_by(change)}
            if before:
                entry["before"] = before
            entries.append(entry)
            names |= _names_after(change)
        if key:
            entries[-1]["key"] = key[:KEY_LENGTH]
        mine.changes = entries
        return _put_on(mine, names, acting=acting, text=text)


def undo(pattern: Pattern, *, acting: User, seen: str | None = None) -> Pattern:
    """Take the newest change off, whether of a line or of a name. Answers as `correct` does."""
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        _refuse_another_state(mine, seen)
        if not mine.changes:
            raise Refused("There is nothing to undo: the lines are as they were read.")
        entries = list(mine.changes)
        names = dict(mine.relabels)
        more = True
        while more and entries:
            entry = entries.pop()
            names |= entry.get("before", {})
            more = bool(entry.get("more"))
        mine.changes = entries
        return _put_on(mine, names, acting=acting, text="")


def undo_all(pattern: Pattern, *, acting: User) -> Pattern:
    """Back to the lines and names as they were read. Answers as `correct` does."""
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        if not mine.changes and not mine.relabels:
            return mine
        mine.changes = []
        text = f"undid every correction of pattern {mine.number}"
        return _put_on(mine, {}, acting=acting, text=text)


def _put_on(mine: Pattern, names: Mapping[str, str], *, acting: User, text: str) -> Pattern:
    mine.relabels = {line: label for line, label in names.items() if label}
    try:
        traced = mine.traced
        refuse_scribble(traced)
    except CannotChange as cannot:
        raise Refused(str(cannot)) from cannot
    put_down(mine, look_again(mine))
    mine.save(update_fields=["changes", "relabels", "drawing_json", "findings_json"])
    _tell(mine, acting=acting, text=text)
    return mine


def _tell(mine: Pattern, *, acting: User, text: str) -> None:
    """One row for a sitting of small changes (each stands in the pattern itself)."""
    detail: dict[str, Any] = {"pattern": mine.pk}
    if not text:
        newest = History.objects.about(mine.project).first()
        if (
            newest is not None
            and newest.verb == "pattern-corrected"
            and newest.actor_id == acting.pk
            and newest.detail == detail
            and newest.at > timezone.now() - ONE_SITTING
        ):
            return
    words = text or f"corrected lines of pattern {mine.number}"
    if text:
        detail["changes"] = len(mine.changes)
    record(acting, "pattern-corrected", mine.project, words, **detail)


def _refuse_another_state(mine: Pattern, seen: str | None) -> None:
    if seen is not None and seen != version_of(mine):
        raise Refused(MADE_ELSEWHERE)


def _names_after(change: Change) -> dict[str, str]:
    """What a change says of names; a line that is joined to another has none any more."""
    if isinstance(change, Name):
        return dict(change.labels)
    return dict.fromkeys(_named_by(change), "")


def _named_by(change: Change) -> tuple[str, ...]:
    if isinstance(change, Name):
        return tuple(line for line, _ in change.labels)
    if isinstance(change, Join) and change.other != change.line:
        return (change.other,)
    return ()
