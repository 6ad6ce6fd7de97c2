"""Another way takes the proposed plan's place: one tap there, and one back."""

from __future__ import annotations

from django.db import transaction

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.cutting import Plan, job_from_json, plan_from_json
from studio.core.placing import ENGINE_VERSION
from studio.core.verifying import faults
from studio.models import CutPlan, Layout, PlanProject, WayTry
from studio.steps.plans import layout_words as words
from studio.steps.plans.by_hand import BY_HAND, propose_by_hand
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.sharing import WAYS
from studio.steps.plans.taking_layouts import layouts_wished

from .ways.ask import LAID_BY, shares_of

State = CutPlan.State


@transaction.atomic
def choose_way(plan: CutPlan, way: str, *, acting: User) -> CutPlan:
    """Take what was worked out for that way: a new proposed plan, judged again; this one is
    dropped, and all ways go along, so that one tap leads back.

    Chosen twice is chosen once. Raises Refused where the plan is not waiting for a decision, or
    the way was not worked out.
    """
    # The plan's row comes first, as in an approval, so that the two never wait for each other.
    held = CutPlan.objects.filter(pk=plan.pk, state=State.PROPOSED, rival_of=None)
    if not held.update(state=State.PROPOSED):
        return _chosen_already(plan, way)
    plan.refresh_from_db()
    if plan.way == way:
        return plan
    row = plan.way_tries.filter(way=way).first() if way in WAYS else None
    if row is None or row.state != WayTry.State.DONE or row.answer is None:
        raise Refused("This way has not been worked out, so it cannot be chosen.")
    job, answer = job_from_json(row.job), plan_from_json(row.answer)
    if faults(job, answer.placements, answer.cuts):
        raise Refused("What was worked out does not pass the check any more. Place them again.")
    laid_by = row.figures.get(LAID_BY) or ENGINE_VERSION
    fresh = _shares(plan, answer, laid_by)
    drop_plan(plan, acting=acting, why=f"its metal is shared another way: {row.get_way_display()}")
    made = propose_by_hand(
        plan,
        row.job,
        row.answer,
        fresh,
        acting=acting,
        laid_by=laid_by,
        ways=plan.way_tries.all(),
    )
    record(
        acting,
        "way-chosen",
        made,
        f"chose for the pieces of plan {plan.pk}: {row.get_way_display()}",
        way=way,
    )
    return made


def _shares(plan: CutPlan, answer: Plan, laid_by: str) -> list[PlanProject]:
    """The projects' shares of the new plan, each with the student's layout where it lies so."""
    before = [share for share in shares_of(plan) if share.live]
    wished = {one.project_id: one for one in layouts_wished(before)}
    fresh = []
    for share in before:
        layout, told = wished.get(share.project_id), share.layout_told
        if layout is not None:
            own = {p for p in answer.placements if p.piece.startswith(f"{share.pattern_id}/")}
            told = _why_not_so(layout, laid_by) if set(layout.laid) != own else ""
        fresh.append(
            PlanProject(
                project=share.project,
                pattern=share.pattern,
                layout=None if told else layout,
                layout_told=told,
            )
        )
    return fresh


def _why_not_so(layout: Layout, laid_by: str) -> str:
    if laid_by == BY_HAND:
        return words.told(words.BY_HAND)
    return words.told(words.NO_CUT, layout.laid[0].metal if layout.laid else "")


def _chosen_already(plan: CutPlan, way: str) -> CutPlan:
    """The plan that was made when this way was chosen a moment ago. Raises Refused without one."""
    projects = plan.shares.values("project")
    live = CutPlan.objects.filter(
        shares__project__in=projects, shares__live=True, state=State.PROPOSED
    ).distinct()
    plan.refresh_from_db()
    if plan.state == State.DROPPED:
        for one in live:
            if one.way == way and one.way_tries.filter(way=plan.way).exists():
                return one
        raise Refused("This plan is dropped already; its pieces may lie on a newer one.")
    if plan.rival_of_id is not None:
        raise Refused("This is another try beside a plan. Choose one of the two first.")
    raise Refused("The way is chosen as long as a plan waits for a decision; this one is decided.")
