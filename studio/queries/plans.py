"""Cut plans that a person may see, what waits for one, and the metal that one touches."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from django.db.models import (
    Case,
    Count,
    Exists,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Sum,
    When,
)
from django.shortcuts import get_object_or_404

from classroom.models import Course, User
from classroom.queries import courses_for, seats_for
from inventory.models import StockPiece
from inventory.queries import stock_labelled
from studio.models import CutPlan, Pattern, PlanProject, Project, Quote, Return, WayTry

from .patterns import projects_for

State = CutPlan.State
TURNS = (
    *(State.PROPOSED, State.PLACING, State.APPROVED, State.ISSUED),
    *(State.CLOSED, State.PARTED, State.DROPPED),
)
"""In which order plans are listed."""
UNDECIDED = (State.PLACING, State.PROPOSED)


def plans_for(user: User) -> QuerySet[CutPlan]:
    """Plans of a teacher's courses, or those that hold a project of the student's.

    A student who shares a plan sees the whole picture of the metal, but names and prices of
    own projects only: the views ask `projects_for` for those.
    """
    plans = CutPlan.objects.select_related("course", "metal")
    if user.is_teacher:
        return plans.filter(course__in=courses_for(user))
    mine = plans.filter(shares__project__seat__in=seats_for(user))
    return mine.filter(rival_of=None).distinct()  # which of two tries it is, the teacher chooses


def plan_for(user: User, pk: int) -> CutPlan:
    return get_object_or_404(plans_for(user), pk=pk)


def plans_listed_for(
    user: User, states: Collection[str], course: Course | None = None
) -> QuerySet[CutPlan]:
    """The person's plans in these states (of one course where given), those first that wait for a
    decision; with `project_count` and `price`, which is None where there are no quotes.

    Neither what was asked nor what was answered is fetched, as both are large.
    """
    prices = (
        Quote.objects.filter(plan=OuterRef("pk"), kind=Quote.Kind.PLANNED)
        .order_by()
        .values("plan")
        .annotate(sum=Sum("total"))
        .values("sum")
    )
    plans = plans_for(user) if course is None else plans_for(user).filter(course=course)
    if not user.is_teacher:  # their own plan stands for the shared one that it came out of
        plans = plans.exclude(own_plans__shares__project__seat__in=seats_for(user))
    return (
        plans.filter(state__in=states)
        .select_related("placing")
        .defer("job", "answer", "placing__progress")
        .annotate(
            turn=Case(
                *(When(state=state, then=number) for number, state in enumerate(TURNS)),
                output_field=IntegerField(),
            ),
            project_count=Count("shares", distinct=True),
            price=Subquery(prices),
        )
        .order_by("turn", "-created_at", "-pk")
    )


def own_plan_of(user: User, plan: CutPlan) -> CutPlan | None:
    """A student's own plan that came out of this shared one, the newest; None for teachers, who
    see all of them, and as long as the student's blanks are not parted."""
    if user.is_teacher:
        return None
    mine = plan.own_plans.filter(shares__project__seat__in=seats_for(user), shares__live=True)
    gone = plan.shares.filter(project__seat__in=seats_for(user), live=True)
    return None if gone.exists() else mine.distinct().order_by("-pk").first()


def plans_holding(projects: Iterable[Project]) -> QuerySet[CutPlan]:
    """The plans on which the projects are now; each is on one at most."""
    held = PlanProject.objects.filter(project__in=projects, live=True)
    return CutPlan.objects.filter(pk__in=held.values("plan"))


def courses_to_place(user: User) -> QuerySet[Course]:
    """A teacher's running courses in which patterns wait for a plan (`waiting`), or several plans
    for a decision (`proposed`): placed together they may use less metal."""
    # Asked for each project apart: one may have shares of plans that were dropped, too.
    held = PlanProject.objects.filter(project=OuterRef("briefs__projects"), live=True)
    waiting = Q(briefs__projects__stage=Project.Stage.PATTERN_APPROVED) & Q(~Exists(held))
    undecided = Q(plans__state=State.PROPOSED, plans__rival_of=None)
    return (
        courses_for(user)
        .running()
        .annotate(
            waiting=Count("briefs__projects", filter=waiting, distinct=True),
            proposed=Count("plans", filter=undecided, distinct=True),
        )
        .filter(Q(waiting__gt=0) | Q(proposed__gt=1))
    )


def projects_to_place(user: User, course: Course) -> QuerySet[Project]:
    """The course's projects that may go on a new plan, by metal: a plan that is not approved yet
    may give way to one that uses the metal better."""
    decided = PlanProject.objects.filter(live=True).exclude(plan__state__in=UNDECIDED)
    return (
        projects_for(user)
        .filter(brief__course=course, stage=Project.Stage.PATTERN_APPROVED, metal__isnull=False)
        .exclude(plan_shares__in=decided)
        .order_by("metal__alloy_code", "metal__thickness_mm", "metal", "brief", "pk")
    )


def patterns_without_plan(user: User, plan: CutPlan) -> QuerySet[Pattern]:
    """Approved patterns of the plan's course and metal whose projects are on no plan."""
    held = PlanProject.objects.filter(live=True)
    waiting = (
        projects_for(user)
        .filter(brief__course=plan.course, metal=plan.metal)
        .filter(stage=Project.Stage.PATTERN_APPROVED)
        .exclude(plan_shares__in=held)
    )
    approved = Pattern.objects.filter(state=Pattern.State.APPROVED, project__in=waiting)
    related = approved.select_related("project__brief")
    return related.defer("tracing", "findings_json").order_by("pk")


def with_what_is_placed(projects: QuerySet[Project]) -> QuerySet[Project]:
    """The projects with `approved`, the pattern to be placed, and `live_shares`, the plan on which
    it is; one of each at most."""
    approved = Pattern.objects.filter(state=Pattern.State.APPROVED)
    return projects.prefetch_related(
        Prefetch("patterns", approved.defer("tracing", "findings_json"), to_attr="approved"),
        Prefetch("plan_shares", PlanProject.objects.filter(live=True), to_attr="live_shares"),
    )


def stock_touched_by(plan: CutPlan) -> list[StockPiece]:
    """The stock pieces that the plan touches, whatever became of them, by label code."""
    touched = stock_labelled(plan.course.school_id, plan.touched_codes)
    return list(touched.select_related("metal"))


def stock_offered_by(plan: CutPlan) -> list[StockPiece]:
    """The stock pieces on which the plan's pieces might have been laid, as they are now."""
    codes = [metal["id"] for metal in plan.job["metal"]]
    return list(stock_labelled(plan.course.school_id, codes))


def ways_of_latest_plan(course: Course) -> list[WayTry]:
    """What each way of the course's latest shared plan came to, that way first which it went."""
    latest = WayTry.objects.filter(plan__course=course).order_by("-plan").values("plan")[:1]
    rows = WayTry.objects.filter(plan__in=latest, state=WayTry.State.DONE)
    found = rows.select_related("plan").defer("job", "answer", "plan__job", "plan__answer")
    return sorted(found, key=lambda row: (row.way != row.plan.way, row.pk))


def returns_in(courses: QuerySet[Course]) -> QuerySet[Return]:
    """What came back of the courses' closed plans."""
    return Return.objects.filter(plan__course__in=courses)
