"""How the demo's students share sheets: parted, sawn apart, passed on, and added to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from classroom.models import User
from classroom.safety.permits import give_permit, missing_permits
from studio.core.bench.texts import BenchStepKind
from studio.core.cutting.groups import group_of
from studio.models import (
    CutPlan,
    PlacingSettings,
    PlanProject,
    Project,
    Shear,
    StockStep,
)
from studio.queries.shared_stock import stock_with_shares
from studio.steps.bench.tools import set_tools
from studio.steps.plans.placing_settings import FIELDS, said_by, set_rules
from studio.steps.sharing.holding import hand_on
from studio.steps.sharing.parting.part import sign_parted, start_parting
from studio.steps.sharing.sticking import stand_in, stick
from studio.steps.sharing.stock_steps import check, sign, start

from .clock import on_day
from .people import People, pass_questions

LONGEST_CUT_MM = Decimal(320)
"""What the room's guillotine cuts at most; invented for the demo."""


def share_by(people: People, way: str) -> None:
    """From now on new plans of the course share their sheets this way ("": by the tools)."""
    said = said_by(people.school, people.course) or said_by_nobody()
    set_rules(people.school, people.course, said | {"sharing": way}, acting=people.teacher)


def said_by_nobody() -> dict[str, object]:
    """A row of rules in which nothing is said."""

    empty = PlacingSettings()
    return {name: getattr(empty, name) for name in FIELDS}


def get_a_guillotine(people: People) -> None:
    """The room gets a guillotine that is worked by foot."""
    set_tools(
        people.school,
        frame_depth_mm=Decimal(102),
        shear=Shear.FOOT,
        shear_cut_mm=LONGEST_CUT_MM,
        acting=people.teacher,
    )


def part_here(people: People, plan: CutPlan, days_ago: int) -> None:
    """The teacher parts every stock piece of the plan; every student has own metal then."""
    steps = StockStep.objects.filter(plan_stock__plan=plan, kind="part", done_at=None)
    for step in steps.order_by("pk"):
        with on_day(days_ago, hour=13):
            start_parting(step, acting=people.teacher)
        with on_day(days_ago, hour=13, minute=20):
            sign_parted(step, acting=people.teacher, place="rack, offcut drawer")


def stick_and_dry(
    people: People, plan: CutPlan, days_ago: int, *, away: Sequence[Project] = ()
) -> None:
    """The plan's stock pieces are prepared, stuck and dried for all; a friend sticks the papers of
    who is `away`."""
    for step in _steps_of(plan):
        shares = stock_with_shares(step.plan_stock).live
        here = [share.project.student for share in shares if share.project not in away]
        lend(people, here, step.permits, days_ago)
        hour = 9 + step.number
        with on_day(days_ago, hour=hour):
            start(step, acting=here[0])
        with on_day(days_ago, hour=hour, minute=45):
            if step.kind == BenchStepKind.ADHERE:
                _stick_all(people, step, shares, here[0], away)
            else:
                step.refresh_from_db()
                sign(step, acting=here[0])
            step.refresh_from_db()
            if step.done_at is None:
                check(step, acting=people.teacher)


def _stick_all(
    people: People,
    step: StockStep,
    shares: Sequence[PlanProject],
    friend: User,
    away: Sequence[Project],
) -> None:
    for share in shares:
        if share.project in away:
            why = "Away with the rowing team"
            stand_in(step, share, friend, acting=people.teacher, reason=why)
        else:
            stick(step, share, acting=share.project.student)


def hand_to(people: People, project: Project, days_ago: int, hour: int = 8) -> None:
    """Every shared stock piece on which the project lies goes into its student's hands."""
    share = PlanProject.objects.select_related("plan").get(project=project, live=True)
    job, laid = share.plan.asked, share.plan.laid
    assert laid is not None
    group = group_of(project.pk)
    codes = {p.metal for p in laid.placements if job.wanted_by_id[p.piece].group == group}
    rows = share.plan.reserved.filter(live=True, stock_piece__code__in=codes)
    with on_day(days_ago, hour=hour):
        for row in rows.filter(steps__isnull=False).distinct():
            hand_on(row, share, acting=people.teacher)


def in_turn(plan: CutPlan) -> list[Project]:
    """The plan's projects in the order in which they saw."""
    shares = plan.shares.filter(live=True).select_related("project__seat__student")
    return [share.project for share in shares.order_by("turn", "pk")]


def _steps_of(plan: CutPlan) -> list[StockStep]:
    rows = StockStep.objects.filter(plan_stock__plan=plan, done_at=None)
    return list(rows.select_related("plan_stock").order_by("plan_stock", "number"))


def lend(people: People, students: Sequence[User], codes: Sequence[str], days_ago: int) -> None:
    """Who lacks a permit gets it before the step that needs it, as the rule wants."""
    with on_day(days_ago, hour=8) as moment:
        day: dt.date = moment.date()
        for student in students:
            for topic in missing_permits(student, set(codes), day):
                pass_questions(student, topic)
                give_permit(student, topic, acting=people.teacher, remark="Made up the lesson")
