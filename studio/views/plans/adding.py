"""A student's further pieces are added to metal that this student has at the bench."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from classroom.models import User
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.core.cutting.groups import group_of
from studio.models import CutPlan, Project
from studio.queries.additions import all_together, metal_in_use, shares_lying, whole_layout
from studio.queries.patterns import project_for
from studio.queries.plans import plans_for
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.adding import add_to, why_not_add
from studio.steps.plans.quote import pieces_of
from studio.views.house.students_language import in_a_students_language

from .figures import drawn

Stage = Project.Stage


@requires(Action.ADD_TO_METAL)
@never_cache
@in_a_students_language
def project_add(request: Visit, project_pk: int) -> HttpResponse:
    """The metal that this project's student has at the bench, with what is free of it; sent, the
    pieces are placed on the one that was chosen."""
    project = project_for(request.user, project_pk)
    plans = plans_for(request.user).filter(pk__in=metal_in_use(project).values("pk"))
    if request.method == "POST":
        chosen = request.POST.get("plan", "")
        if not chosen.isdecimal() or len(chosen) > 12:
            raise Refused(_("Choose the metal to add to."))
        base = get_object_or_404(plans, pk=int(chosen))
        added = add_to(base, project, acting=request.user)
        return redirect("plan", pk=added.pk)
    context = {
        "project": project,
        "cards": [_card(request.user, plan) for plan in plans.order_by("pk")],
        "may_ask": waits_for_metal(project),
        "is_teacher": request.user.is_teacher,
        "crumbs": [
            {"label": str(project), "url": reverse("project", args=[project.pk])},
            {"label": _("Add to metal in use")},
        ],
    }
    return render(request, "studio/plans/add.html", context)


def waits_for_metal(project: Project) -> bool:
    """Whether the pattern is approved and on no plan yet."""
    approved = project.stage == Stage.PATTERN_APPROVED
    return approved and not project.plan_shares.filter(live=True).exists()


def metal_to_add_to(project: Project) -> bool:
    """Whether the project waits for metal, and its student has some of it at the bench."""
    return waits_for_metal(project) and metal_in_use(project).exists()


def _card(user: User, plan: CutPlan) -> dict[str, Any]:
    whole = whole_layout(plan)
    laid = whole.laid
    assert laid is not None  # its metal is handed out
    shares = list(shares_lying(whole).select_related("pattern", "project__brief"))
    depth = frame_depth_mm(plan.course.school)
    return {
        "plan": plan,
        "why_not": why_not_add(plan),
        "free_mm2": sum(one.outline.area for one in laid.offcuts),
        "projects": [share.project for share in shares],
        "pictures": drawn(whole.asked, laid, lambda: pieces_of(shares), depth),
        "mine": {group_of(share.project_id) for share in shares} if user.is_student else set(),
        "added": len(all_together(plan)) - 1,
    }
