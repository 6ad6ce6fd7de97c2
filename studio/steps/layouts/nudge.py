"""A teacher nudges a student's layout: lays a copy on, which can then be the one that counts."""

from __future__ import annotations

from typing import Any, Final

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import History, User, record
from classroom.refusals import Refused
from studio.models import Layout, Pattern, Project

from .hand_in import keep_as_judged
from .outcome import Weighed, is_told_as_now, weighed_now

UNDECIDED = (Pattern.State.HANDED_IN,)
NAME_LENGTH = 60
NUDGED: Final = "layout-nudged"


@transaction.atomic
def nudge_layout(layout: Layout, *, acting: User) -> Layout:
    """A copy of a handed-in layout that is the teacher's to change; the student's stays as it is.

    Nudged twice is the same copy, until the student hands in another state of it. Raises Refused
    unless the layout's pattern waits for an answer.
    """
    project, pattern = layout.project, layout.pattern
    if project is None or pattern is None:
        raise Refused("Only a student’s layout is nudged; a plan’s is laid out by hand.")
    Project.objects.select_for_update().get(pk=project.pk)
    pattern = Pattern.objects.only("state", "number").get(pk=pattern.pk)
    if pattern.state not in UNDECIDED:
        raise Refused(
            "This pattern is not waiting for your answer, so its layout is not nudged. Hand it "
            "back with a remark, or lay the plan out by hand."
        )
    if not layout.is_handed_in and layout.owner_id != acting.pk:
        raise Refused("The student has not handed this layout in.")
    if (made := _nudged_before(layout, acting)) is not None:
        return made
    now = timezone.now()
    copy = Layout.objects.create(
        project=project,
        pattern=pattern,
        number=int(project.layouts.aggregate(last=Max("number"))["last"] or 0) + 1,
        name=f"Nudged by {acting.display_name}"[:NAME_LENGTH],
        owner=acting,
        origin=layout.origin,
        job=layout.job,
        placements=layout.placements,
        pinned=layout.pinned,
        figures=layout.figures,
        beside=layout.beside,
        created_at=now,
        changed_at=now,
    )
    record(
        acting,
        NUDGED,
        project,
        f"copied layout {layout.number} to nudge it",
        layout=copy.pk,
        copied=layout.pk,
    )
    return copy


def _nudged_before(layout: Layout, acting: User) -> Layout | None:
    """The copy that this person has made of the layout as it was handed in."""
    assert layout.project is not None
    told = History.objects.about(layout.project).filter(verb=NUDGED, actor=acting)
    if layout.handed_in_at is not None:
        told = told.filter(at__gte=layout.handed_in_at)
    copies = [one["layout"] for one in told.values_list("detail", flat=True) if _is_of(layout, one)]
    return Layout.objects.filter(pk__in=copies, owner=acting).order_by("-number").first()


def _is_of(layout: Layout, detail: dict[str, Any]) -> bool:
    return layout.pk in (detail["copied"], detail["layout"])


def choose_for_plan(layout: Layout, *, acting: User, ahead: Weighed | None = None) -> None:
    """Make this try of a project the one that its plan takes: a teacher's choice with the answer.

    Inside the caller's transaction, which holds the project; `ahead` was worked out before it.
    Raises Refused where the layout is not whole or has a fault.
    """
    project = layout.project
    assert project is not None
    if layout.chosen and layout.is_handed_in:
        return
    found = weighed_now(layout, project.brief.course.school, ahead)
    project.layouts.exclude(pk=layout.pk).filter(chosen=True).update(chosen=False)
    beside = layout.beside if is_told_as_now(layout.beside) else found.beside
    keep_as_judged(layout, found.figures, beside, chosen=True)
    record(
        acting,
        "layout-chosen",
        project,
        f"chose layout {layout.number} for the plan",
        layout=layout.pk,
    )
