"""In which order the students of a plan saw on metal that is passed on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.bench.texts import BenchStepKind
from studio.core.cutting.groups import group_of
from studio.core.picturing.turns import turns_of
from studio.models import BenchStep, CutPlan, MetalHolder, PlanProject
from studio.steps.bench.moves import require_teacher

SAWN = (BenchStepKind.DRILL, BenchStepKind.SAW)


def store_turns(plan: CutPlan) -> None:
    """Number the students who share a stock piece, from the open edge inwards; once."""
    if plan.laid is None or plan.shares.filter(turn__gt=0).exists():
        return
    by_group = {group_of(share.project_id): share for share in plan.shares.filter(live=True)}
    groups = [group for group in turns_of(plan.asked, plan.laid.placements) if group in by_group]
    for number, group in enumerate(groups, start=1):
        share = by_group[group]
        PlanProject.objects.filter(pk=share.pk, turn=0).update(turn=number)


@transaction.atomic
def move_turn(
    share: PlanProject, where: Literal["earlier", "later"], *, acting: User, seen: int | None = None
) -> PlanProject:
    """Let a student change turns with the one before or behind, until the turn of either began.

    `seen` is the turn that the page showed: moved since then, a second tap changes nothing. Raises
    Refused where there is nobody to change with.
    """
    plan = CutPlan.objects.select_for_update(of=("self",), no_key=True).defer("job", "answer")
    held = plan.select_related("course").get(pk=share.plan_id)
    require_teacher(held.course, acting)
    here = PlanProject.objects.select_related("project__seat__student").get(pk=share.pk)
    if seen is not None and here.turn != seen:
        return here
    if not here.live or not here.turn:
        raise Refused(_("%(student)s has no turn in this plan.") % _named(here))
    others = in_turns(held).exclude(pk=here.pk).select_related("project__seat__student")
    beside = (
        others.filter(turn__lt=here.turn).last()
        if where == "earlier"
        else others.filter(turn__gt=here.turn).first()
    )
    if beside is None:
        raise Refused(_("There is nobody to change turns with."))
    for one in (here, beside):
        if has_begun(one):
            raise Refused(_("The turn of %(student)s has begun, so it stays.") % _named(one))
    for one, turn, old in ((here, beside.turn, here.turn), (beside, here.turn, beside.turn)):
        if not PlanProject.objects.filter(pk=one.pk, turn=old).update(turn=turn):
            raise Refused(_("Somebody else has just changed the turns. Look at them again."))
    record(
        acting,
        "turn-moved",
        held,
        f"{here.project.student} saws at turn {beside.turn}, {beside.project.student} at turn "
        f"{here.turn}",
    )
    here.turn = beside.turn
    return here


def in_turns(plan: CutPlan) -> QuerySet[PlanProject]:
    """The shares that have a turn, in order; whoever was left out or has left has none."""
    return plan.shares.filter(live=True, turn__gt=0, project__seat__left_at=None).order_by(
        "turn", "pk"
    )


def groups_in_turn(plan: CutPlan) -> tuple[str, ...]:
    """The job's groups in the order in which they saw, stored or, before the metal is handed out,
    as they will be; none where nobody waits for another."""
    if plan.way != CutPlan.Way.PASSED or plan.laid is None:
        return ()
    stored = tuple(group_of(share.project_id) for share in in_turns(plan))
    return stored or turns_of(plan.asked, plan.laid.placements)


def has_begun(share: PlanProject) -> bool:
    return bool(begun_turns([share]))


def begun_turns(shares: Sequence[PlanProject]) -> set[int]:
    """The shares (by pk) whose turn has begun: the metal has been in these hands, or in these
    hands a drill or saw."""
    held = MetalHolder.objects.filter(share__in=shares).values_list("share", flat=True)
    steps = BenchStep.objects.filter(
        project__in=[share.project_id for share in shares],
        kind__in=SAWN,
        started_at__isnull=False,
    )
    at_work = set(steps.values_list("project", flat=True))
    return {pk for pk in held if pk is not None} | {
        share.pk for share in shares if share.project_id in at_work
    }


def _named(share: PlanProject) -> dict[str, str]:
    return {"student": str(share.project.student)}
