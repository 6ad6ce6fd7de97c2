"""The metal of an approved plan is handed out: the commitment becomes a charge."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import stock
from inventory.spending import ledger
from studio.models import CutPlan, Project
from studio.steps.bench.begin import make_bench_steps
from studio.steps.sharing.begin import begin_sharing

from .adding import bring_to_the_bench
from .as_placed import still_as_placed_on

State = CutPlan.State


@transaction.atomic
def issue_plan(plan: CutPlan, *, acting: User) -> CutPlan:
    """Hand the metal out and send the projects to the bench. A second issue changes nothing.

    Raises Refused when the plan is not approved, or its metal is not what it was placed on.
    """
    now = timezone.now()
    swapped = CutPlan.objects.filter(pk=plan.pk, state=State.APPROVED).update(
        state=State.ISSUED, issued_by=acting, issued_at=now
    )
    plan.refresh_from_db()
    if not swapped:
        if plan.state == State.ISSUED:
            return plan
        raise Refused(
            f"No metal can be handed out for this plan: it is {plan.get_state_display()}."
        )
    cause = subject_of(plan)
    reason = f"handed out for {plan}"
    held = plan.reserved.filter(live=True).values("stock_piece")
    pieces = list(StockPiece.objects.filter(pk__in=held).order_by("pk"))
    if plan.adds_to_id is None:
        stock.issue(pieces, acting=acting, reason=reason, cause=cause)
        still_as_placed_on(plan, mend="Give this plan up and place them again.")
    else:
        bring_to_the_bench(plan, acting=acting)
    budget = ledger.open_budget(plan.course)
    total = ledger.committed_for(budget, cause)
    if total:
        ledger.release(budget, total, acting=acting, reason=reason, cause=cause)
        ledger.charge(budget, total, acting=acting, reason=reason, cause=cause)
    projects = list(
        Project.objects.filter(plan_shares__plan=plan, plan_shares__live=True)
        .select_related("brief", "seat__student", "metal")
        .order_by("pk")
    )
    moved = Project.objects.filter(
        pk__in=[project.pk for project in projects], stage=Project.Stage.PLANNED
    ).update(stage=Project.Stage.AT_BENCH, stage_since=now)
    if moved != len(projects):
        raise Refused("A project of this plan is not where it should be. Load the page again.")
    for project in projects:
        project.stage, project.stage_since = Project.Stage.AT_BENCH, now
    begin_sharing(plan, acting=acting)  # before the projects' steps: some become the metal's own
    for project in projects:
        make_bench_steps(project)
    record(
        acting,
        "plan-issued",
        plan,
        f"handed out {', '.join(piece.code for piece in pieces)}",
        total=str(total),
    )
    return plan
