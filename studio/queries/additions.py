"""A plan at the bench and the plans that were added to its metal: they lie, and end, together."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from studio.models import CutPlan, PlanProject, Project

State = CutPlan.State
ON_THE_METAL = (State.ISSUED, State.CLOSED)
UNDECIDED = (State.PLACING, State.PROPOSED, State.APPROVED)


def additions_on(plan: CutPlan) -> list[CutPlan]:
    """The plans whose pieces were added to this one's metal and lie there, oldest first."""
    added = plan.additions.filter(state__in=ON_THE_METAL).select_related("course", "metal")
    return list(added.order_by("issued_at", "pk"))


def all_together(plan: CutPlan) -> list[CutPlan]:
    """The plan itself and what was added to its metal, in the order in which they came."""
    return [plan, *additions_on(plan)]


def whole_layout(plan: CutPlan) -> CutPlan:
    """The plan whose job and answer have all that lies on the metal: the newest addition's have
    what lay there before as well."""
    return all_together(plan)[-1]


def shares_lying(plan: CutPlan) -> QuerySet[PlanProject]:
    """Whose pieces this plan's layout shows: its own, and of what it is added to, all that lay
    there before."""
    if plan.adds_to is None:
        return plan.shares.all()
    before = [one.pk for one in all_together(plan.adds_to) if one.pk != plan.pk]
    return PlanProject.objects.filter(Q(plan=plan) | Q(plan__in=before, live=True))


def metal_in_use(project: Project) -> QuerySet[CutPlan]:
    """Plans of the project's own student whose metal is at the bench, of the project's metal and
    course: to these its pieces might be added."""
    return (
        CutPlan.objects.filter(
            state=State.ISSUED,
            way=CutPlan.Way.ALONE,
            adds_to=None,
            course=project.brief.course_id,
            metal=project.metal_id,
            shares__live=True,
            shares__project__seat=project.seat_id,
        )
        .select_related("course__school", "metal")
        .distinct()
        .order_by("pk")
    )


def open_addition(plan: CutPlan) -> CutPlan | None:
    """The addition to this plan that is not handed out yet, where there is one."""
    return plan.additions.filter(state__in=UNDECIDED, rival_of=None).first()


def left_out_of(plan: CutPlan) -> list[int]:
    """Projects (by key) that a teacher has left out of the plan at the bench: they pay nothing,
    and the metal of their pieces is metal again."""
    left = PlanProject.objects.filter(plan=plan, live=False).exclude(left_out_at=None)
    return list(left.order_by("project_id").values_list("project_id", flat=True))


def projects_on(plan: CutPlan) -> list[Project]:
    """The projects that share the plan's metal to the end, those of additions with them."""
    return list(
        Project.objects.filter(
            plan_shares__plan__in=[one.pk for one in all_together(plan)], plan_shares__live=True
        )
        .select_related("brief__course", "seat__student")
        .order_by("pk")
    )
