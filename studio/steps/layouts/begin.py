"""Somebody begins a try at laying out the pieces of a project, or of a cut plan."""

from __future__ import annotations

from typing import Any, Final

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import CutPlan, Layout, Pattern, Project
from studio.steps.plans.asking import make_job
from studio.steps.plans.placing_settings import rules_for

from .may_lay import why_no_tries, why_plan_is_fixed
from .stock import first_for

MOST_TRIES: Final = 12
"""Of a project, or of a plan."""


def begin(project: Project, *, acting: User, name: str = "") -> Layout:
    """A fresh try with every piece in the tray; a student's first one is the one that counts.

    On the stock piece that the server would use first. Raises Refused, in words, where nothing
    can be laid out (any more), or tries are too many.
    """
    pattern, job = _to_lay(project, acting)
    with transaction.atomic():
        return add_try(job, acting=acting, project=project, pattern=pattern, name=name)


def begin_first(project: Project, *, acting: User) -> Layout:
    """As `begin`, for somebody without a try of the project; asked for twice it is one."""
    pattern, job = _to_lay(project, acting)
    with transaction.atomic():
        Project.objects.select_for_update(no_key=True).get(pk=project.pk)
        own = Layout.objects.filter(project=project, owner=acting).order_by("-chosen", "-number")
        if (there := own.first()) is not None:
            return there
        return add_try(job, acting=acting, project=project, pattern=pattern)


def _to_lay(project: Project, acting: User) -> tuple[Pattern, dict[str, Any]]:
    if why := why_no_tries(project, acting):
        raise Refused(why)
    pattern = pattern_to_lay(project)
    course = project.brief.course
    metal = first_for(project, pattern, rules_for(course.school, course))
    return pattern, make_job([pattern], [metal], course.school)


def begin_from_plan(plan: CutPlan, *, acting: User) -> Layout:
    """A try that begins as the plan lies. Raises Refused once its metal is handed out.

    What students have laid themselves is pinned, so that it is not moved by accident.
    """
    if why := why_plan_is_fixed(plan):
        raise Refused(why)
    answer = plan.answer or {}
    placements = answer.get("placements", [])
    job = {name: value for name, value in plan.job.items() if name != "fixed"}
    pinned = [[placed["piece"], placed["copy"]] for placed in plan.job.get("fixed", [])]
    with transaction.atomic():
        return add_try(
            job,
            acting=acting,
            plan=plan,
            placements=placements,
            pinned=pinned,
            cuts=answer.get("cuts", []),
        )


def pattern_to_lay(project: Project) -> Pattern:
    """The project's current pattern. Raises Refused while it has stops, or is not there."""
    pattern = project.patterns.current().defer("tracing").first()
    if pattern is None:
        raise Refused(_("There is no pattern yet. Bring or build one first."))
    if not pattern.may_be_handed_in:
        raise Refused(_("The pattern has stops. Mend them first, then lay its pieces out."))
    pattern.project = project
    return pattern


def add_try(
    job: dict[str, Any],
    *,
    acting: User,
    project: Project | None = None,
    plan: CutPlan | None = None,
    pattern: Pattern | None = None,
    placements: list[dict[str, Any]] | None = None,
    name: str = "",
    origin: str = Layout.Origin.HAND,
    **more: Any,
) -> Layout:
    """Store one more try within a transaction. Raises Refused where there are too many."""
    if project is not None:
        Project.objects.select_for_update(no_key=True).get(pk=project.pk)
        others = Layout.objects.filter(project=project)
    else:
        assert plan is not None
        CutPlan.objects.select_for_update(no_key=True).only("pk").get(pk=plan.pk)
        others = Layout.objects.filter(plan=plan)
    if others.count() >= MOST_TRIES:
        raise Refused(
            _("There are %(most)s tries already. Delete one first.") % {"most": MOST_TRIES}
        )
    number = int(others.aggregate(last=Max("number"))["last"] or 0) + 1
    made = Layout.objects.create(
        project=project,
        plan=plan,
        pattern=pattern,
        number=number,
        name=" ".join(name.split())[:60],
        owner=acting,
        origin=origin,
        job=job,
        placements=placements or [],
        chosen=acting.is_student and not others.filter(chosen=True).exists(),
        **more,
    )
    subject = project if project is not None else plan
    assert subject is not None
    record(acting, "layout-begun", subject, f"began layout {number}", layout=made.pk)
    return made
