"""A plan whose metal has been handed out, made through the house's own steps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.utils import timezone
from shapely.geometry import Polygon, box
from time_machine import Traveller

from classroom.models import BenchPermit, Seat, User
from classroom.safety.topics import seed_topics
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import Consumable, Metal, StockPiece
from inventory.spending import ledger
from studio.core.cutting import Placement, Plan, job_from_json, plan_to_json
from studio.core.drawing import Drawing, DrillKind, DrillMark, Piece
from studio.core.verifying import faults, measure
from studio.models import BenchStep, Brief, CutPlan, Pattern, PlanProject, Project
from studio.steps.bench.sign import check_step, sign_done, start_step
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import make_quotes
from tests.people import Cast

WITH_WINDOW = Polygon(box(0, 0, 30, 20).exterior.coords, [box(10, 6, 20, 14).exterior.coords])
"""A tag of 30 × 20 mm with one window: it has all seven bench steps."""


@dataclass
class World:
    """The cast with one brief, one metal, and whatever plans a test asks for."""

    cast: Cast
    brief: Brief
    metal: Metal
    sheets: list[StockPiece] = field(default_factory=list)

    def project(self, seat: Seat, outline: Polygon = WITH_WINDOW) -> Project:
        """A project with an approved pattern of this one outline."""
        project = Project.objects.create(
            brief=self.brief,
            seat=seat,
            title=f"Tag of {seat.student}",
            metal=self.metal,
            stage=Project.Stage.PATTERN_APPROVED,
        )
        middle = DrillMark(5.0, 10.0, 2.0, DrillKind.RING)
        drawing = Drawing((Piece("1", outline, (middle,) if outline is WITH_WINDOW else ()),))
        Pattern.objects.create(
            project=project,
            number=1,
            state=Pattern.State.APPROVED,
            file="patterns/none.svg",
            file_name="tag.svg",
            sha256="0" * 64,
            tracing={"lines": []},
            drawing_json=drawing.to_json(),
        )
        return project

    def plan(
        self,
        projects: Sequence[Project],
        places: Sequence[tuple[float, float]] | None = None,
        sheets: Sequence[StockPiece] | None = None,
        on: Sequence[int] | None = None,
    ) -> CutPlan:
        """A proposed plan with each project's piece at its place, judged like any other."""
        patterns = [project.patterns.get() for project in projects]
        metal = list(sheets if sheets is not None else self.sheets[:1])
        data = make_job(patterns, metal, self.cast.school)
        job = job_from_json(data)
        spots = places or [(2.0 + 40.0 * n, 2.0) for n in range(len(projects))]
        placements = tuple(
            Placement(order.id, 0, metal[on[n] if on else 0].code, False, 0.0, *spots[n])
            for n, order in enumerate(job.pieces)
        )
        assert faults(job, placements) == ()
        measures, offcuts = measure(job, placements)
        answer = Plan(placements, (), measures, offcuts, 1, 0.1, 1)
        plan = CutPlan.objects.create(
            course=self.cast.course,
            metal=self.metal,
            state=CutPlan.State.PROPOSED,
            job=data,
            answer=plan_to_json(answer),
            created_by=self.cast.teacher,
        )
        for project, pattern in zip(projects, patterns, strict=True):
            PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
        make_quotes(plan)
        return plan

    def approved(self, *projects: Project) -> CutPlan:
        return approve_plan(self.plan(projects), acting=self.cast.teacher)

    def issued(self, *projects: Project, **more: object) -> CutPlan:
        """The plan of these projects with its metal at the bench."""
        plan = self.plan(projects, **more)  # type: ignore[arg-type]
        approve_plan(plan, acting=self.cast.teacher)
        issue_plan(plan, acting=self.cast.teacher)
        for project in projects:
            project.refresh_from_db()
        return plan

    def at_bench(self) -> Project:
        """The owner's project with its seven steps, metal handed out."""
        project = self.project(self.cast.seat)
        self.issued(project)
        return project


def make_world(cast: Cast, *, sheets: int = 2) -> World:
    """Copper 0.8 mm, two sheets of 120 × 80 mm at 24.00 each, 500.00 in the budget."""
    seed_topics(cast.school)
    metal = Metal.objects.create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal("0.813")
    )
    brief = Brief.objects.create(
        course=cast.course,
        title="Key tag",
        allowance=Decimal("9.00"),
        teacher_signs=["dry", "drill", "finish"],
        created_by=cast.teacher,
    )
    brief.metals.add(metal)
    Consumable.objects.create(
        school=cast.school,
        name="Saw blades 2/0",
        kind="blade",
        unit="blade",
        price=Decimal("0.40"),
        priced_on=dt.date(2026, 9, 1),
        uses_per_unit=Decimal(20),
        per="cm_sawn",
    )
    Consumable.objects.create(
        school=cast.school,
        name="Adhesive",
        kind="adhesive",
        unit="bottle",
        price=Decimal("6.00"),
        priced_on=dt.date(2026, 9, 1),
        uses_per_unit=Decimal(600),
        per="cm2",
    )
    ledger.allot(
        ledger.open_budget(cast.course), Decimal("500.00"), acting=cast.teacher, reason="term"
    )
    purchase = receiving.receive_purchase(
        cast.school,
        [SheetLine(metal, sheets, Decimal(120), Decimal(80), Decimal(24) * sheets)],
        acting=cast.teacher,
        bought_on=dt.date(2026, 9, 2),
    )
    pieces = StockPiece.objects.filter(purchase_line__purchase=purchase).order_by("code")
    return World(cast, brief, metal, list(pieces))


def give_permits(cast: Cast, student: User, *codes: str, days: int = 365) -> list[BenchPermit]:
    """Permits of the school's topics (all of them unless codes are named) from today."""
    topics = cast.school.topics.all()
    if codes:
        topics = topics.filter(code__in=codes)
    now = timezone.now()
    return [
        BenchPermit.objects.create(
            student=student,
            topic=topic,
            topic_version=topic.version,
            given_by=cast.teacher,
            given_at=now,
            expires_on=now.date() + dt.timedelta(days=days),
        )
        for topic in topics
    ]


def step_of(project: Project, kind: str) -> BenchStep:
    """The step as it is in the database at this moment."""
    return BenchStep.objects.select_related(
        "project__seat__student__school", "project__seat__course", "project__brief"
    ).get(project=project, kind=kind)


def do_steps(project: Project, until: str, clock: Traveller, cast: Cast) -> BenchStep:
    """Do and sign every step before the one of kind `until`, as student and teacher would."""
    student = project.seat.student
    for step in list(project.bench_steps.all()):
        if step.kind == until:
            break
        do_step(project, step.kind, clock, cast, student)
    return step_of(project, until)


def do_step(
    project: Project, kind: str, clock: Traveller, cast: Cast, student: User | None = None
) -> BenchStep:
    """Start, wait for, sign and where asked check one step."""
    doer = student or project.seat.student
    step = start_step(step_of(project, kind), acting=doer)
    if step.wait_until is not None:
        clock.move_to(step.wait_until)
    sign_done(step_of(project, kind), acting=doer)
    if step.teacher_signs:
        check_step(step_of(project, kind), acting=cast.teacher)
    return step_of(project, kind)


def make_it(project: Project, clock: Traveller, cast: Cast) -> None:
    """All steps of the project, with all permits, to the end."""
    if not project.seat.student.permits.exists():
        give_permits(cast, project.seat.student)
    for step in list(project.bench_steps.filter(done_at=None)):
        do_step(project, step.kind, clock, cast)
    project.refresh_from_db()
