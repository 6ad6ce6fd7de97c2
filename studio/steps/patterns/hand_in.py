"""A student hands a pattern in for the teacher's look; taking it back is `take_back`."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.standing import how_to_mend, why_pattern_is_fixed
from studio.models import Layout, Pattern, Project
from studio.steps.at_work import require_at_work
from studio.steps.layouts.hand_in import hand_in_layout, laid_since
from studio.steps.layouts.outcome import Weighed, chosen_layout, weighed_ahead
from studio.steps.layouts.renew import renew_for

from .ahead import Ahead, still_right, worked_out
from .holding import hold
from .recheck import look_again, put_down
from .revising import SET_ASIDE
from .versions import OPEN_STAGES, add_copy, take_the_project


def hand_in(pattern: Pattern, *, acting: User, without_layout: bool = False) -> Pattern:
    """Give the draft to the teacher, with the project's chosen layout where it has one; the
    version that was handed in. Handing in twice is the same as once.

    A returned pattern of which only the layout was to be changed is handed in as a new version,
    once somebody has changed the layout.

    The drawing is measured against the brief's limits of this moment, so a change of the brief
    cannot slip between. Raises Refused when the pattern has stops, is set aside or
    returned, or names no metal that the brief allows; and where its layout is not fit to be
    used, unless it goes `without_layout` (`hand_in_layout`).
    """
    require_at_work(pattern.project)
    ahead = laid = None
    if pattern.state == Pattern.State.DRAFT:  # the second tap of the button needs no measuring
        ahead = worked_out(pattern, pattern.changes, pattern.relabels)
        laid = None if without_layout else weighed_ahead(pattern.project)
    with transaction.atomic():
        return _hand_in(pattern, ahead, laid, acting=acting, without_layout=without_layout)


def _hand_in(
    shown: Pattern,
    ahead: Ahead | None,
    laid: Weighed | None,
    *,
    acting: User,
    without_layout: bool,
) -> Pattern:
    project = shown.project
    pattern = hold(shown)
    pattern.project = project
    if pattern.state == Pattern.State.HANDED_IN:
        return pattern
    if pattern.state == Pattern.State.RETURNED and laid_since(pattern, chosen_layout(project)):
        pattern = _with_its_layout_only(pattern, acting=acting)
    project.brief.refresh_from_db()  # its limits may have been changed since the page was made
    if pattern.state != Pattern.State.DRAFT:
        raise Refused(_why_not(pattern))
    if not project.has_allowed_metal:
        raise Refused("Choose one of the brief's metals first, then hand the pattern in.")
    put_down(pattern, still_right(ahead, pattern) or look_again(pattern))
    if not pattern.may_be_handed_in:
        raise Refused(_stops(pattern))
    layout = hand_in_layout(pattern, without=without_layout, ahead=laid)
    now = timezone.now()
    pattern.state = Pattern.State.HANDED_IN
    pattern.handed_in_at = now
    pattern.save(update_fields=["state", "handed_in_at", "drawing_json", "findings_json"])
    moved = Project.objects.filter(pk=project.pk, stage__in=OPEN_STAGES).update(
        stage=Project.Stage.HANDED_IN, stage_since=now
    )
    if not moved:
        raise Refused("The project has moved on meanwhile. Look at its page again.")
    record(
        acting,
        "pattern-handed-in",
        project,
        f"handed in pattern {pattern.number}{_with(layout)}",
        pattern=pattern.pk,
        layout=layout.pk if layout else None,
    )
    return pattern


def _with(layout: Layout | None) -> str:
    return f" with layout {layout.number}" if layout else ""


def _with_its_layout_only(returned: Pattern, *, acting: User) -> Pattern:
    """A new version with the same lines, to which the layout belongs from now on; the returned
    one keeps its remark."""
    layout = chosen_layout(returned.project)
    assert layout is not None
    take_the_project(returned.project)
    fresh = add_copy(returned, acting=acting)
    layout.project = returned.project
    if layout.pattern_id == returned.pk:
        renew_for(layout, [fresh])
    return fresh


def _stops(pattern: Pattern) -> str:
    count = len(pattern.stops)
    if count:
        stops = "1 stop is" if count == 1 else f"{count} stops are"
        return f"{stops} left. {how_to_mend(built=pattern.is_as_built)}"
    return "There is no piece in this pattern to saw out. Look at how its lines were read."


def _why_not(pattern: Pattern) -> str:
    match pattern.state:
        case Pattern.State.ASIDE:
            return SET_ASIDE
        case Pattern.State.RETURNED:
            mend = how_to_mend(built=pattern.is_as_built)
            if chosen_layout(pattern.project) is not None:
                mend = f"Change the layout and hand it in again. Or: {mend}"
            return f"Your teacher handed this pattern back. {mend}"
        case _:
            return why_pattern_is_fixed(Project.Stage.PATTERN_APPROVED)
