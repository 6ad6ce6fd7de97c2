"""Cut plans: the list, a new one, the plan's page while it is placed and after, and decisions."""

from __future__ import annotations

from itertools import groupby
from typing import Any, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from inventory.spending.ledger import OverBudget
from studio.core.picturing.plan import thumbnail
from studio.forms.plans.choosing import AgainForm, ApproveForm, DropForm, NewPlanForm
from studio.models import Brief, CutPlan, PlacingJob
from studio.queries.layouts import layouts_that_count
from studio.queries.patterns import projects_for
from studio.queries.plans import (
    courses_to_place,
    own_plan_of,
    plan_for,
    plans_listed_for,
    projects_to_place,
    with_what_is_placed,
)
from studio.running.placing.reaping import reap
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.place import place_again, propose_together, stop_placing
from studio.views.house.filters import chosen_course, query
from studio.views.house.students_language import in_a_students_language

from .shown import plan_context, progress_context, status_words
from .ways import ways_beside

State = CutPlan.State
PLANS_PER_PAGE = 20
MOST_READY = 120
"""Projects shown as ready on one page; a course has far fewer, and the rest comes after them."""

LONGEST_PAUSE = 8


@requires(Action.SEE_PLAN)
@require_GET
def plans(request: Visit) -> HttpResponse:
    over = request.GET.get("show") == "over"
    wanted = (State.CLOSED, State.PARTED, State.DROPPED) if over else CutPlan.LIVE
    course = chosen_course(request)
    rows = plans_listed_for(request.user, wanted, course)
    if not over:  # another try stands on the page of the plan that it is beside
        rows = rows.filter(rival_of=None)
    page = Paginator(rows, PLANS_PER_PAGE).get_page(request.GET.get("page"))
    listed = [(plan, *status_words(plan, cast(Any, plan).price is None)) for plan in page]
    sections = [
        {"label": "Live", "url": f"?{query(course)}", "current": not over},
        {
            "label": "Closed, parted and dropped",
            "url": f"?{query(course, show='over')}",
            "current": over,
        },
    ]
    context = {
        "page": page,
        "listed": listed,
        "over": over,
        "sections": sections,
        "course": course,
        "keep": query(course, show="over") if over else query(course),
        "is_teacher": request.user.is_teacher,
        "ready": courses_to_place(request.user) if request.user.is_teacher and not over else [],
    }
    return render(request, "studio/plans/list.html", context)


@requires(Action.MANAGE_PLAN)
@require_http_methods(["GET", "POST"])
def plan_new(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    ready = projects_to_place(request.user, course)
    form = NewPlanForm(request.POST if request.method == "POST" else None, ready=ready)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            plan = propose_together(
                form.cleaned_data["projects"],
                acting=request.user,
                seconds=form.cleaned_data["seconds"],
                whose=form.whose,
            )
            return redirect("plan", pk=plan.pk)
    chosen = set(request.POST.getlist("projects"))
    context = {
        "course": course,
        "form": form,
        "groups": _by_metal(ready, chosen),
        "crumbs": [
            {"label": "Cut plans", "url": reverse("plans")},
            {"label": "New cut plan"},
        ],
    }
    status = 422 if form.is_bound else 200
    return render(request, "studio/plans/new.html", context, status=status)


def _by_metal(ready: Any, chosen: set[str]) -> list[dict[str, Any]]:
    rows: list[Any] = list(with_what_is_placed(ready)[:MOST_READY])
    laid = set(layouts_that_count(rows).values_list("project_id", flat=True))
    laid -= {row.pk for row in rows if row.brief.laid_by == Brief.LaidBy.SERVER}
    groups = []
    for metal, projects in groupby(rows, key=lambda project: project.metal):
        cards = [
            {
                "project": project,
                "pattern": project.approved[0],
                "thumbnail": thumbnail(project.approved[0].drawing.pieces),
                "count": project.approved[0].copies * len(project.approved[0].drawing.pieces),
                "area": project.approved[0].copies * project.approved[0].drawing.area_mm2,
                "own_layout": project.pk in laid,
                "plan": next((share.plan_id for share in project.live_shares), None),
                "chosen": str(project.pk) in chosen if chosen else not project.live_shares,
            }
            for project in projects
            if project.approved
        ]
        if cards:
            held = any(card["plan"] for card in cards)
            own = [card["project"] for card in cards if card["own_layout"]]
            standing = [str(one) for one in own if one.brief.laid_by == Brief.LaidBy.STANDS]
            groups.append(
                {
                    "metal": metal,
                    "cards": cards,
                    "held": held,
                    "own_layouts": bool(own),
                    "standing": standing,
                }
            )
    return groups


@requires(Action.SEE_PLAN)
@never_cache
@require_GET
@in_a_students_language
def plan(request: Visit, pk: int) -> HttpResponse:
    shared = plan_for(request.user, pk)
    own = own_plan_of(request.user, shared)
    if own is not None:
        return redirect("plan", pk=own.pk)
    return _page(request, _moving(request, shared))


def _page(
    request: Visit,
    one: CutPlan,
    *,
    approve_form: ApproveForm | None = None,
    drop_form: DropForm | None = None,
    status: int = 200,
) -> HttpResponse:
    context = plan_context(request.user, one)
    context["approve_form"] = approve_form or ApproveForm()
    context["drop_form"] = drop_form or DropForm()
    context["delay"] = 1
    if request.user.is_teacher and one.state == State.PROPOSED:
        context |= ways_beside(one)
    return render(request, "studio/plans/plan.html", context, status=status)


def _moving(request: Visit, one: CutPlan) -> CutPlan:
    """Whoever looks at a plan that should be moving also looks after its worker."""
    if one.state == State.PLACING and reap(only=one.placing.pk):
        return plan_for(request.user, one.pk)
    return one


@requires(Action.SEE_PLAN)
@never_cache
@require_GET
@in_a_students_language
def plan_progress(request: Visit, pk: int) -> HttpResponse:
    """The part of the page that asks again and again while the plan is being placed."""
    one = _moving(request, plan_for(request.user, pk))
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect("plan", pk=one.pk)
    if one.state != State.PLACING or one.placing.state == PlacingJob.State.FAILED:
        answer = HttpResponse(status=204)
        answer["HX-Refresh"] = "true"
        return answer
    shares = list(
        one.shares.select_related("pattern").defer("pattern__tracing", "pattern__findings_json")
    )
    own = set(
        projects_for(request.user)
        .filter(pk__in=[share.project_id for share in shares])
        .values_list("pk", flat=True)
    )
    context = progress_context(request.user, one, one.asked, shares, own)
    context |= {"plan": one, "delay": _next_pause(request.GET.get("n", "")), "polled": True}
    return render(request, "studio/plans/parts/progress.html", context)


def _next_pause(sent: str) -> int:
    """Seconds until the page asks again: slower the longer it takes."""
    before = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 4 else 1
    return min(LONGEST_PAUSE, before + 1)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_stop(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    stop_placing(one, acting=request.user)
    messages.info(request, "Placing ends at its next report; the best plan so far is kept.")
    return redirect("plan", pk=one.pk)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_again(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    form = AgainForm(request.POST)
    if not form.is_valid():
        raise Refused("The seed is a whole number from 1 to 2147483647.")
    made = place_again(
        one,
        acting=request.user,
        seed=form.cleaned_data["seed"],
        leave_out_unplaced=form.cleaned_data["leave_out_unplaced"],
        whose=form.whose,
    )
    messages.info(request, f"Plan {one.pk} is dropped; its pieces are being placed anew.")
    return redirect("plan", pk=made.pk)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_approve(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    form = ApproveForm(request.POST)
    if not form.is_valid():
        return _page(request, one, approve_form=form, status=422)
    try:
        approve_plan(one, acting=request.user, overdraw_reason=form.cleaned_data["overdraw_reason"])
    except OverBudget as refusal:
        form.add_error("overdraw_reason", str(refusal))
        return _page(request, plan_for(request.user, pk), approve_form=form, status=409)
    messages.success(request, "Approved: the metal is reserved and the price is set aside.")
    return redirect("plan", pk=one.pk)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_drop(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    form = DropForm(request.POST)
    if form.is_valid():
        with said_on(form):
            drop_plan(one, acting=request.user, why=form.cleaned_data["why"])
            return done(
                request,
                f"Plan {one.pk} is dropped. Its projects can be placed anew.",
                "plan",
                pk=one.pk,
            )
    return _page(request, plan_for(request.user, pk), drop_form=form, status=422)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_issue(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    issue_plan(one, acting=request.user)
    messages.success(request, "The metal is handed out; the projects are at the bench.")
    return redirect("plan", pk=one.pk)
