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
    Change,
    Join,
    Name,
    change_to_json,
)
from studio.models import Pattern
from studio.steps.layouts.trial import ask_soon

from .ahead import Ahead, Entries, looked_at, still_right, worked_out
from .recheck import put_down
from .revising import to_change

KEY_LENGTH = 40
MOST_KEPT = 100_000
"""So many points and names may stand in all changes of a drawing: its row stays some megabytes."""
ONE_SITTING = dt.timedelta(minutes=30)
MADE_ELSEWHERE = (
    "This drawing has been changed meanwhile, perhaps in another window. Nothing was lost: here "
    "it is as it stands now. Make your change again if you still want it."
)


def version_of(pattern: Pattern) -> str:
    """Says of which state of the lines somebody speaks: another one after every change."""
    told = json.dumps([pattern.changes, pattern.relabels], sort_keys=True)
    return f"{len(pattern.changes)}-{hashlib.sha256(told.encode()).hexdigest()[:12]}"


def ahead_of(pattern: Pattern, changes: Sequence[Change], key: str = "") -> Ahead | None:
    """With these changes put on; None where there is nothing to do, or it would be refused."""
    if not changes or len(pattern.changes) + len(changes) > MAX_CHANGES:
        return None
    return worked_out(pattern, *_with(pattern, changes, key))


def correct(
    pattern: Pattern,
    changes: Sequence[Change],
    *,
    acting: User,
    seen: str | None = None,
    key: str = "",
    text: str = "",
    ahead: Ahead | None = None,
) -> Pattern:
    """Put these changes on, all or none; undo takes them off together.

    `seen` is the version (`version_of`) that the person looked at, None where that does not
    matter. `key` names this sending: a page that heard no answer sends again, and is answered
    as if it had been heard the first time. `text` is what the history says was done; without it
    one row says for a whole sitting that lines were corrected. A caller who holds rows already
    brings `ahead`.

    Answers with the draft that carries the changes. Raises Refused.
    """
    if ahead is None and seen in (None, version_of(pattern)) and not _was_heard(pattern, key):
        ahead = ahead_of(pattern, changes, key)
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        if _was_heard(mine, key):
            return mine
        _refuse_another_state(mine, seen)
        if not changes:
            return mine
        if len(mine.changes) + len(changes) > MAX_CHANGES:
            raise Refused(
                f"This drawing has been changed {MAX_CHANGES:,} times already. Download it from "
                "its page and bring the file as a new pattern; then go on there."
            )
        entries, names = _with(mine, changes, key)
        if sum(map(_weight, entries)) > MOST_KEPT:
            raise Refused(
                "So many points have been redrawn in this drawing that no more can be kept. "
                "Download it from its page and bring the file as a new pattern; then go on there."
            )
        return _put_on(mine, entries, names, ahead, acting=acting, text=text)


def undo(pattern: Pattern, *, acting: User, seen: str | None = None) -> Pattern:
    """Take the newest change off, whether of a line or of a name. Answers as `correct` does."""
    ahead = None
    if pattern.changes and seen in (None, version_of(pattern)):
        ahead = worked_out(pattern, *_without_newest(pattern))
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        _refuse_another_state(mine, seen)
        if not mine.changes:
            raise Refused("There is nothing to undo: the lines are as they were read.")
        entries, names = _without_newest(mine)
        return _put_on(mine, entries, names, ahead, acting=acting, text="")


def undo_all(pattern: Pattern, *, acting: User) -> Pattern:
    """Back to the lines and names as they were read. Answers as `correct` does."""
    ahead = worked_out(pattern, [], {}) if pattern.changes or pattern.relabels else None
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        if not mine.changes and not mine.relabels:
            return mine
        text = f"undid every correction of pattern {mine.number}"
        return _put_on(mine, [], {}, ahead, acting=acting, text=text)


def _with(row: Pattern, changes: Sequence[Change], key: str) -> tuple[Entries, dict[str, str]]:
    """All entries and names of the row with these changes put on."""
    entries = list(row.changes)
    names = dict(row.relabels)
    for number, change in enumerate(changes):
        entry = change_to_json(change) | ({"more": True} if number else {})
        before = {line: names.get(line, "") for line in _named_by(change)}
        if before:
            entry["before"] = before
        entries.append(entry)
        names |= _names_after(change)
    if key and changes:
        entries[-1]["key"] = key[:KEY_LENGTH]
    return entries, _given(names)


def _without_newest(row: Pattern) -> tuple[Entries, dict[str, str]]:
    """All entries and names of the row before its newest change."""
    entries = list(row.changes)
    names = dict(row.relabels)
    more = True
    while more and entries:
        entry = entries.pop()
        names |= entry.get("before", {})
        more = bool(entry.get("more"))
    return entries, _given(names)


def _given(names: Mapping[str, str]) -> dict[str, str]:
    return {line: label for line, label in names.items() if label}


def _weight(entry: Mapping[str, Any]) -> int:
    """Points and names that are kept in an entry."""
    return 1 + len(entry.get("points", ())) + len(entry.get("labels", ()))


def _was_heard(row: Pattern, key: str) -> bool:
    return bool(key and row.changes and row.changes[-1].get("key") == key[:KEY_LENGTH])


def _put_on(
    mine: Pattern,
    entries: Entries,
    names: dict[str, str],
    ahead: Ahead | None,
    *,
    acting: User,
    text: str,
) -> Pattern:
    mine.changes, mine.relabels = entries, names
    put_down(mine, still_right(ahead, mine) or looked_at(mine))
    mine.save(update_fields=["changes", "relabels", "drawing_json", "findings_json"])
    _tell(mine, acting=acting, text=text)
    ask_soon(mine)
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
