"""Which row carries a student's change: the draft itself, or a new version of a returned one."""

from __future__ import annotations

from classroom.models import User
from classroom.refusals import Refused
from studio.core.standing import why_pattern_is_fixed
from studio.models import Pattern
from studio.steps.at_work import require_at_work

from .holding import hold
from .versions import OPEN_STATES, add_copy, take_the_project

SET_ASIDE = (
    "This version is kept beside: another one is current. Press “Use this one again” on its page "
    "first, or change the current one."
)


def to_change(pattern: Pattern, *, acting: User) -> Pattern:
    """The pattern's row, held for this transaction, as a draft.

    A returned pattern stays as it is with its remark; what is answered is a new version that
    carries everything of it. Raises Refused when the pattern is not the student's to change now.
    """
    project = pattern.project
    require_at_work(project)
    row = hold(pattern)
    row.project = project
    if row.state == Pattern.State.ASIDE:
        raise Refused(SET_ASIDE)
    if row.state not in OPEN_STATES:
        project.refresh_from_db(fields=["stage"])
        raise Refused(why_pattern_is_fixed(project.stage))
    if row.state == Pattern.State.DRAFT:
        return row
    take_the_project(project)
    return add_copy(row, acting=acting)
