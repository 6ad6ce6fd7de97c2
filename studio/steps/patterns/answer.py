"""A teacher approves a pattern, or returns it with a remark."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import CutPlan, Layout, Pattern, PlanProject, Project
from studio.steps.layouts.hand_in import give_layouts_back
from studio.steps.layouts.nudge import choose_for_plan
from studio.steps.layouts.outcome import weighed
from studio.steps.plans.place import propose

from .holding import hold


@dataclass
class Approval:
    """What came of an approval; the two fields are filled once the transaction is committed."""

    plan: CutPlan | None = None
    not_placed: str = ""
    projects: list[Project] = field(default_factory=list)


def approve_pattern(
    pattern: Pattern,
    *,
    acting: User,
    remark: str = "",
    place_now: bool = True,
    layout: Layout | None = None,
) -> Approval:
    """Accept the pattern; with `place_now` its placing starts after the commit.

    `layout` is the try of its project that counts from now on, such as a nudged one; without it
    the student's stays the one. Raises Refused when the pattern is not waiting (any more) or has
    stops under the limits it was last checked with, or the layout a fault. When placing cannot
    start, the approval stands and says why not.
    """
    approval = Approval(projects=[pattern.project])
    ahead = None
    if layout is not None and not (layout.chosen and layout.is_handed_in):
        ahead = weighed(layout, pattern.project.brief.course.school)
    with transaction.atomic():
        _decide(pattern, Pattern.State.APPROVED, Project.Stage.PATTERN_APPROVED, acting, remark)
        if layout is not None:
            if layout.pattern_id != pattern.pk:
                raise Refused("This layout is of another version of the pattern.")
            choose_for_plan(layout, acting=acting, ahead=ahead)
        record(
            acting,
            "pattern-approved",
            pattern.project,
            f"approved pattern {pattern.number}",
            pattern=pattern.pk,
            why=remark,
        )
        if place_now:
            transaction.on_commit(lambda: start_placing(approval, acting=acting))
    return approval


def start_placing(approval: Approval, *, acting: User) -> None:
    """Propose one cut plan for the approval's projects (all of one metal)."""
    try:
        approval.plan = propose(approval.projects, acting=acting)
    except Refused as refusal:
        approval.not_placed = str(refusal)


@transaction.atomic
def return_pattern(
    pattern: Pattern, *, acting: User, remark: str, mark: dict[str, Any] | None = None
) -> None:
    """Give the pattern back with a remark that says what to change; its layout is open again.

    `mark` is where on the pattern or on the layout the remark points (`Pattern.mark`).

    A pattern that was approved can be returned too, as long as no cut plan holds it. Raises
    Refused without a remark, and when the pattern is not waiting (any more).
    """
    remark = remark.strip()
    if not remark:
        raise Refused("Write what the student should change.")
    hold(pattern)
    held = PlanProject.objects.filter(project=pattern.project_id, live=True).exists()
    if held:
        raise Refused("A cut plan holds this pattern. Drop the plan first, then hand it back.")
    _decide(pattern, Pattern.State.RETURNED, Project.Stage.RETURNED, acting, remark)
    Pattern.objects.filter(pk=pattern.pk).update(mark=mark)
    give_layouts_back(pattern.project)
    record(
        acting,
        "pattern-returned",
        pattern.project,
        f"handed back pattern {pattern.number}",
        pattern=pattern.pk,
        why=remark,
    )


def _decide(pattern: Pattern, state: str, stage: str, acting: User, remark: str) -> None:
    hold(pattern)
    now = timezone.now()
    approving = state == Pattern.State.APPROVED
    if approving:
        pattern.refresh_from_db(fields=["state", "findings_json", "drawing_json"])
        if pattern.state == Pattern.State.HANDED_IN and not pattern.may_be_handed_in:
            raise Refused(
                "This pattern has stops under the brief's limits of today. Hand it back "
                "with a remark, or change the brief's limits."
            )
    before = (
        [Pattern.State.HANDED_IN]
        if approving
        else [
            Pattern.State.HANDED_IN,
            Pattern.State.APPROVED,
        ]
    )
    decided = Pattern.objects.filter(pk=pattern.pk, state__in=before).update(
        state=state, reviewed_by=acting, reviewed_at=now, remark=remark
    )
    if not decided:
        raise Refused(_why_not(pattern))
    stages = [Project.Stage.HANDED_IN, Project.Stage.PATTERN_APPROVED]
    moved = Project.objects.filter(pk=pattern.project_id, stage__in=stages).update(
        stage=stage, stage_since=now
    )
    if not moved:
        raise Refused("The project has moved on meanwhile. Look at its page again.")
    pattern.project.refresh_from_db(fields=["stage", "stage_since"])
    pattern.refresh_from_db(fields=["state", "reviewed_by", "reviewed_at", "remark"])


def _why_not(pattern: Pattern) -> str:
    pattern.refresh_from_db(fields=["state"])
    match pattern.state:
        case Pattern.State.APPROVED:
            return "This pattern is approved already."
        case Pattern.State.RETURNED:
            return "This pattern was handed back already."
        case Pattern.State.ASIDE:
            return "The student uses another version of this pattern now."
        case _:
            return "The student has taken this pattern back."
