"""A cut plan is asked for: projects are put together, and a worker lays their pieces on metal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from classroom.models import Course, User, record
from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.core.cutting import Plan, plan_to_json
from studio.core.cutting.groups import project_of
from studio.core.verifying import faults
from studio.models import CutPlan, Pattern, PlacingJob, PlanProject, Project
from studio.steps.bench.tools import tools_of
from studio.tasks import place_plan

from . import asking as ordering
from . import lease
from .adding import add_to
from .drop import drop_plan
from .placing_settings import PlacingRules, rules_for
from .propose import propose_answer
from .sharing import Way, are_alone, way_for_several
from .taking_layouts import taken_layouts

MOST_PROJECTS = 40
MOST_SEED = 2**31 - 1
LONGEST_SECONDS = 120.0
TWICE_SECONDS = 15.0


@dataclass(frozen=True, slots=True)
class Whose:
    """Whose layouts a plan is made from: students' own where they fit, or all by the server;
    `even_standing` also those of briefs by which a student's layout stands."""

    server_lays: bool = False
    even_standing: bool = False


STUDENTS = Whose()


def propose(
    projects: Sequence[Project],
    *,
    acting: User,
    seed: int = 1,
    seconds: float | None = None,
    whose: Whose = STUDENTS,
) -> CutPlan:
    """Start placing these projects of one course and one metal together; the plan is queued.

    `seconds` is the time to search (the setting PLACING_SECONDS by default). Raises Refused,
    in words for the person, when a project has no approved pattern or has a plan already, when
    metals differ, or when the rack has none of the metal.
    """
    return ask_for_plan(_loaded(projects), acting=acting, seed=seed, seconds=seconds, whose=whose)


def propose_beside(plan: CutPlan, *, acting: User, seed: int, whose: Whose = STUDENTS) -> CutPlan:
    """Start another try beside a proposed plan: its projects stay on that one meanwhile.

    Nothing of the first plan is set aside by it, so it may also be all by the server. Called
    inside the caller's transaction; raises Refused as `propose` does.
    """
    if plan.adds_to_id is not None:
        raise Refused("These pieces are added to metal at the bench. Place them again instead.")
    shares = plan.shares.filter(live=True).select_related("project")
    rows = _loaded([share.project for share in shares], beside=plan)
    return ask_for_plan(
        rows, acting=acting, seed=seed, seconds=plan.seconds, beside=plan, whose=whose
    )


def ask_for_plan(
    rows: Sequence[Project],
    *,
    acting: User,
    seed: int,
    seconds: float | None,
    beside: CutPlan | None = None,
    whose: Whose = STUDENTS,
) -> CutPlan:
    """Store the job for these projects and hand it to a worker once the transaction is through."""
    patterns = [_approved_pattern(project) for project in rows]
    metal, course = rows[0].metal, rows[0].brief.course
    if course.closed_at is not None:
        raise Refused("This course is closed, so no cut plan is made for it.")
    assert metal is not None
    wanted = ordering.wanted_of(patterns)  # not more than one plan may have
    rules = rules_for(course.school, course)
    grained = any(project.brief.grain_deg is not None for project in rows)
    offered = partial(
        ordering.choose_stock,
        metal,
        gap_mm=rules.apart(project.brief for project in rows).gap_mm,
        margin_mm=float(rules.edge_margin_mm),
        grain_rule=rules.sheet_grain if grained else "",
    )
    way = Way.ALONE if are_alone(rows) else _way(course, rules, wanted, offered(wanted))
    taken = taken_layouts(
        patterns,
        course.school,
        way=way,
        server_lays=whose.server_lays,
        even_standing=whose.even_standing or beside is not None,
    )
    rest = [one for one in patterns if one.project_id not in taken.layouts]
    stock = offered(ordering.wanted_of(rest) if rest else [], beside=taken.stock)
    job = ordering.make_job(patterns, stock, course.school, fixed=taken.fixed, way=way)
    try:
        with transaction.atomic():
            _hold(rows)
            plan = CutPlan.objects.create(
                course=course,
                metal=metal,
                way=way,
                job=job,
                seed=min(max(1, seed), MOST_SEED),
                seconds=min(seconds or settings.PLACING_SECONDS, LONGEST_SECONDS),
                created_by=acting,
                rival_of=beside,
            )
            PlanProject.objects.bulk_create(
                PlanProject(
                    plan=plan,
                    project=pattern.project,
                    pattern=pattern,
                    layout=taken.layouts.get(pattern.project_id),
                    layout_told=taken.told.get(pattern.project_id, ""),
                    live=beside is None,
                )
                for pattern in patterns
            )
            placing = PlacingJob.objects.create(plan=plan)
            names = ", ".join(str(project) for project in rows[:3])
            more = f" and {len(rows) - 3} more" if len(rows) > 3 else ""
            also = f", beside plan {beside.pk}" if beside else ""
            record(acting, "plan-asked", plan, f"asked for a cut plan for {names}{more}{also}")
            transaction.on_commit(lambda: place_plan.enqueue(placing.pk))
    except IntegrityError:
        raise Refused(
            "One of these projects has been put into another cut plan at this moment. "
            "Load the page again."
        ) from None
    return plan


def _way(
    course: Course,
    rules: PlacingRules,
    wanted: Sequence[ordering.WantedSize],
    stock: Sequence[StockPiece],
) -> str:
    """How several students' metal is shared: as the course has it, where tools and metal allow."""
    widest = max(one.shorter_mm for one in wanted)
    return way_for_several(rules, tools_of(course.school), stock, widest)


@transaction.atomic
def propose_together(
    projects: Sequence[Project],
    *,
    acting: User,
    seconds: float | None = None,
    whose: Whose = STUDENTS,
) -> CutPlan:
    """As `propose`, but plans that hold one of the projects and are not approved yet give way.

    They are dropped whole; their other projects wait to be placed again. Raises Refused when a
    project's plan is approved, and as `propose` does; then nothing is dropped.
    """
    held = CutPlan.objects.filter(
        shares__project__in=projects,
        shares__live=True,
        state__in=[CutPlan.State.PLACING, CutPlan.State.PROPOSED],
    ).distinct()
    for plan in held.order_by("pk"):
        if _asked_twice(plan, projects, acting):
            return plan
        drop_plan(plan, acting=acting, why="placed together with others")
    return propose(projects, acting=acting, seconds=seconds, whose=whose)


def _asked_twice(plan: CutPlan, projects: Sequence[Project], acting: User) -> bool:
    """Whether this is the same form sent twice: same person, same projects, moments ago."""
    moments = dt.timedelta(seconds=TWICE_SECONDS)
    return (
        plan.state == CutPlan.State.PLACING
        and plan.created_by_id == acting.pk
        # either way: where the clock has been put back since, the plan is of a later hour
        and abs(timezone.now() - plan.created_at) < moments
        and set(plan.shares.filter(live=True).values_list("project_id", flat=True))
        == {project.pk for project in projects}
    )


@transaction.atomic
def place_again(
    plan: CutPlan,
    *,
    acting: User,
    seed: int | None = None,
    leave_out_unplaced: bool = False,
    why: str = "placed again",
    whose: Whose = STUDENTS,
) -> CutPlan:
    """Drop this plan and ask for a new one, with the rack as it is now.

    With `leave_out_unplaced` the projects that did not find room are left out, so that the rest
    can go ahead. Raises Refused once the plan is approved, and as `propose` does.
    """
    if plan.state == CutPlan.State.DROPPED:
        raise Refused("This plan is dropped already; its pieces may lie on a newer one.")
    if plan.rival_of_id is not None:
        raise Refused("This is another try beside a plan. Drop it, then try again from that plan.")
    if plan.state not in (CutPlan.State.PLACING, CutPlan.State.PROPOSED):
        raise Refused("This plan is approved or over. Drop it first, then place the pieces again.")
    projects = [share.project for share in plan.shares.filter(live=True).select_related("project")]
    if leave_out_unplaced:
        out = projects_unplaced(plan)
        projects = [project for project in projects if project.pk not in out]
        if not projects:
            raise Refused("No project would be left: none of them found room for all its pieces.")
    drop_plan(plan, acting=acting, why=why)
    next_seed = plan.seed + 1 if seed is None else seed
    if plan.adds_to is not None:
        return add_to(plan.adds_to, projects[0], acting=acting, seed=next_seed)
    return propose(projects, acting=acting, seed=next_seed, seconds=plan.seconds, whose=whose)


def projects_unplaced(plan: CutPlan) -> set[int]:
    """Projects (by pk) with a piece that found no room."""
    if plan.laid is None:
        return set()
    wanted = plan.asked.wanted_by_id
    return {project_of(wanted[one.piece].group) for one in plan.laid.unplaced}


def stop_placing(plan: CutPlan, *, acting: User) -> None:
    """Stop looking for a better plan and keep the best so far.

    A working worker ends at its next report. Where no worker is at it any more, the best plan
    stored so far becomes the proposed one at once. Raises Refused when there is none.
    """
    job = PlacingJob.objects.get(plan=plan)
    if plan.state != CutPlan.State.PLACING:
        raise Refused("This plan is not being placed any more.")
    if lease.ask_stop(job.pk):
        record(acting, "placing-stopped", plan, "asked to stop placing and keep the best plan")
        return
    best = job.best if job.state == PlacingJob.State.FAILED else None
    if best is None:
        raise Refused("No plan has been found so far. Try again, or drop it.")
    _keep(plan, best, acting)


@transaction.atomic
def _keep(plan: CutPlan, best: Plan, acting: User) -> None:
    """Take the last plan of a job that failed; it was judged when stored and is judged again."""
    if faults(plan.asked, best.placements, best.cuts):
        raise Refused("The plan found so far does not pass the check. Try again.")
    if not propose_answer(plan, plan_to_json(best)):
        raise Refused("Somebody else has decided about this plan at this moment.")
    record(acting, "plan-kept", plan, "kept the best plan found before placing broke off")


def _loaded(projects: Sequence[Project], beside: CutPlan | None = None) -> list[Project]:
    """The projects as they are now, checked against each other; on no plan but `beside`."""
    wanted = {project.pk for project in projects}
    if not wanted:
        raise Refused("Choose at least one project.")
    if len(wanted) > MOST_PROJECTS:
        raise Refused(f"At most {MOST_PROJECTS} projects go on one plan. Make several plans.")
    rows = list(
        Project.objects.filter(pk__in=wanted)
        .select_related("brief__course__school", "seat__student", "metal")
        .order_by("pk")
    )
    if not rows:
        raise Refused("These projects are gone.")
    if len({project.brief.course_id for project in rows}) > 1:
        raise Refused("Projects on one plan must be of one course.")
    for project in rows:
        if project.metal is None:
            raise Refused(f"No metal has been chosen for {project}. Choose it first.")
        if project.stage != Project.Stage.PATTERN_APPROVED:
            raise Refused(f"{project} is not ready to be placed: {project.get_stage_display()}.")
    if len({project.metal_id for project in rows}) > 1:
        raise Refused("Projects on one plan must be of the same metal and thickness.")
    placed = PlanProject.objects.filter(project__in=rows, live=True).select_related("project")
    if beside is not None:
        placed = placed.exclude(plan=beside)
    if first := placed.first():
        raise Refused(f"{first.project} has a cut plan already (plan {first.plan_id}).")
    return rows


def _approved_pattern(project: Project) -> Pattern:
    pattern = project.patterns.filter(state=Pattern.State.APPROVED).defer("tracing").first()
    if pattern is None:
        raise Refused(f"{project} has no approved pattern.")
    pattern.project = project
    return pattern


def _hold(projects: Sequence[Project]) -> None:
    """Take the projects' rows for this transaction: none moves on while it is put on a plan."""
    held = Project.objects.filter(
        pk__in=[project.pk for project in projects], stage=Project.Stage.PATTERN_APPROVED
    ).update(stage_since=F("stage_since"))
    if held != len(projects):
        raise Refused("One of these projects has moved on meanwhile. Load the page again.")
