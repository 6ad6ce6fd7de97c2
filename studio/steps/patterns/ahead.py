"""What a drawing says, worked out before any row is held: it takes seconds for a large one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from classroom.refusals import Refused
from studio.core.correcting import CannotChange, refuse_scribble
from studio.core.drawing import Limits
from studio.models import Pattern

from .recheck import Checked, look_again

Entries = list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Ahead:
    """What a drawing says with these changes and names.

    It takes seconds for a large drawing, so it is worked out before any row is held, and counts
    only where the row that is held then turns out to be the one it was worked out for.
    """

    sha256: str
    changes: list[dict[str, Any]]
    names: dict[str, str]
    limits: Limits
    checked: Checked

    def fits(self, mine: Pattern) -> bool:
        return (self.sha256, self.changes, self.names, self.limits) == (
            mine.sha256,
            mine.changes,
            mine.relabels,
            mine.project.brief.limits,
        )


def worked_out(pattern: Pattern, entries: Entries, names: dict[str, str]) -> Ahead | None:
    """With these entries and names; None where that cannot be: who holds the row says why."""
    row = Pattern(project=pattern.project, tracing=pattern.tracing, changes=entries, relabels=names)
    try:
        limits = pattern.project.brief.limits
        return Ahead(pattern.sha256, entries, names, limits, looked_at(row))
    except Refused:
        return None


def still_right(ahead: Ahead | None, mine: Pattern) -> Checked | None:
    """What was worked out ahead, where the held row is what it was worked out for."""
    return ahead.checked if ahead is not None and ahead.fits(mine) else None


def looked_at(row: Pattern) -> Checked:
    try:
        refuse_scribble(row.traced)
    except CannotChange as cannot:
        raise Refused(str(cannot)) from cannot
    return look_again(row)
