"""The layout table: its page, and the ways to it from a project and from a cut plan."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from studio.forms.layouts.changing import piece_of
from studio.models import CutPlan, Layout
from studio.queries.layouts import (
    layout_for,
    layout_to_open,
    layouts_for,
    own_blank_plans_for,
)
from studio.queries.patterns import project_for
from studio.queries.plans import plan_for
from studio.steps.layouts.begin import begin, begin_first, begin_from_plan
from studio.steps.layouts.may_lay import why_plan_is_fixed
from studio.views.house.students_language import in_a_students_language

from .shown import table_context
from .state import look


@requires(Action.SEE_LAYOUT)
@never_cache
@require_GET
@in_a_students_language
def layout(request: Visit, pk: int) -> HttpResponse:
    """The table. Whoever may only look finds it without forms."""
    return table_page(request, layout_for(request.user, pk))


def table_page(
    request: Visit,
    one: Layout,
    *,
    typed: QueryDict | None = None,
    wrong: Wrong | None = None,
) -> HttpResponse:
    """The page with a piece chosen; after a refusal with what was typed and what is wrong."""
    asked = typed if typed is not None else request.GET
    try:
        which = piece_of(asked)
    except Refused:
        which = None
    context = table_context(request.user, look(one), which, typed=typed, wrong=wrong, asked=asked)
    status = 200 if wrong is None else 422
    return render(request, "studio/layouts/table.html", context, status=status)


@requires(Action.LAY_OUT)
@require_http_methods(["GET", "POST"])
@in_a_students_language
def project_layout(request: Visit, pk: int) -> HttpResponse:
    """The project's chosen try, else its newest; a student's first one begins here. POST begins
    one more."""
    project = project_for(request.user, pk)
    if request.method == "GET":
        if (found := layout_to_open(request.user, project)) is not None:
            return redirect("layout", pk=found.pk)
        if request.user.is_teacher:
            messages.info(request, _("Nobody has laid these pieces out yet."))
            return redirect("project", pk=project.pk)
    begun = begin_first if request.method == "GET" else begin
    try:
        made = begun(project, acting=request.user)
    except Refused as refusal:
        messages.error(request, str(refusal))
        return redirect("project", pk=project.pk)
    return redirect("layout", pk=made.pk)


@requires(Action.LAY_OUT)
@require_http_methods(["GET", "POST"])
@in_a_students_language
def own_blank_layout(request: Visit, pk: int) -> HttpResponse:
    """The newest layout of a student's own blank, else one that begins as it lies; POST begins one
    more."""
    plan = plan_for(request.user, pk)
    if not own_blank_plans_for(request.user).filter(pk=pk).exists():
        return redirect("plan", pk=pk)
    begun = layouts_for(request.user).filter(plan=plan)
    if request.method == "GET" and not begun.exists() and not why_plan_is_fixed(plan):
        return _begun(request, plan)
    return _layout_of(request, plan)


@requires(Action.MANAGE_PLAN)
@require_http_methods(["GET", "POST"])
def plan_layout(request: Visit, pk: int) -> HttpResponse:
    """The newest layout of a plan; POST begins one as the plan lies."""
    return _layout_of(request, plan_for(request.user, pk))


def _layout_of(request: Visit, plan: CutPlan) -> HttpResponse:
    if request.method == "GET":
        newest = layouts_for(request.user).filter(plan=plan).order_by("-number")
        if found := newest.values_list("pk", flat=True).first():
            return redirect("layout", pk=found)
        messages.info(request, _("Nobody has laid this plan out by hand yet."))
        return redirect("plan", pk=plan.pk)
    return _begun(request, plan)


def _begun(request: Visit, plan: CutPlan) -> HttpResponse:
    try:
        made = begin_from_plan(plan, acting=request.user)
    except Refused as refusal:
        messages.error(request, str(refusal))
        return redirect("plan", pk=plan.pk)
    return redirect("layout", pk=made.pk)
