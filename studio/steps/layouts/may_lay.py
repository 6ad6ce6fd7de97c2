"""May somebody move pieces of a layout, and why not? Asked by all its steps and by its pages."""

from __future__ import annotations

from django.db.models import Q
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.refusals import Refused
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, Brief, CutPlan, Layout, Project
from studio.steps.at_work import why_shut

Stage = Project.Stage
BY_STUDENTS = (Stage.DRAWING, Stage.HANDED_IN, Stage.RETURNED)
"""A student lays out until the pattern is approved."""
BY_TEACHERS = (*BY_STUDENTS, Stage.PATTERN_APPROVED)
PLAN_OPEN = (CutPlan.State.PLACING, CutPlan.State.PROPOSED, CutPlan.State.APPROVED)
"""Until its metal is handed out; what is laid by hand is approved anew."""


AFTER_LAYING = (BenchStepKind.ADHERE, BenchStepKind.DRILL, BenchStepKind.SAW)
"""Steps after whose beginning nothing on an own blank is moved."""


class Closed(Refused):
    """The layout is out of everybody's hands."""


def why_no_tries(project: Project, user: User) -> str:
    """Why this person cannot lay out the project's pieces at all; "" while they can."""
    if why := why_shut(project):
        return _(why)
    if user.is_student and project.brief.laid_by == Brief.LaidBy.SERVER:
        return _("In this brief the server lays the pieces out.")
    if project.stage not in (BY_STUDENTS if user.is_student else BY_TEACHERS):
        return _("The pattern is approved, so its layout can no longer be changed.")
    return ""


def why_plan_is_fixed(plan: CutPlan) -> str:
    """Why the plan's pieces cannot be laid by hand any more; "" while they can. A student's own
    blank, parted out of a shared sheet, is laid on until its papers are stuck."""
    if plan.parent_id is not None and plan.state == CutPlan.State.ISSUED:
        return _("The papers are being stuck on: nothing is moved now.") if _is_stuck(plan) else ""
    if plan.adds_to_id is not None:
        return _(
            "These pieces are added to metal at the bench: the server lays them round what lies "
            "there."
        )
    if plan.state not in PLAN_OPEN:
        return _("The metal of this plan is handed out, or it is over: nothing in it is moved now.")
    return ""


def _is_stuck(plan: CutPlan) -> bool:
    steps = BenchStep.objects.filter(
        project__plan_shares__plan=plan, project__plan_shares__live=True
    )
    begun = Q(started_at__isnull=False) | Q(done_at__isnull=False)
    return steps.filter(begun, kind__in=AFTER_LAYING).exists()


def why_closed(layout: Layout, user: User) -> str:
    """Why nothing in this layout can be changed by anybody like this person; "" while it can."""
    if layout.is_handed_in:
        return _("This layout is handed in. Make a copy of it to go on.")
    if layout.plan is not None:
        return why_plan_is_fixed(layout.plan)
    assert layout.project is not None
    return why_no_tries(layout.project, user)


def why_not_theirs(layout: Layout, user: User) -> str:
    """Why this person only looks at the layout; "" where it is theirs to change."""
    if layout.plan is not None and layout.plan.parent_id is not None:
        return ""  # one student's own blank: only they and their teacher see it
    if layout.plan_id is not None:
        return "" if user.is_teacher else _("Only your teacher changes the layout of a plan.")
    if layout.owner_id != user.pk:
        if user.is_student:
            return _("Your teacher laid this out. Make a copy of it to change it.")
        return _("This is a student's own layout. Make a copy of it to show how you would do it.")
    return ""


def may_change(layout: Layout, user: User) -> bool:
    return not (why_not_theirs(layout, user) or why_closed(layout, user))


def require_may_change(layout: Layout, user: User) -> None:
    """Raises Closed where nobody can change it any more, Refused where this person cannot."""
    if why := why_not_theirs(layout, user):
        raise Refused(why)
    if why := why_closed(layout, user):
        raise Closed(why)
