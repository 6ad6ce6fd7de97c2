"""Metal of two or three students that is passed on from hand to hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from time_machine import Traveller

from classroom.models import Role, Seat, User
from studio.models import CutPlan, PlanProject, PlanStock, Project, StockStep
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.sharing.sticking import stick
from studio.steps.sharing.stock_steps import check, sign, start
from tests.people import Cast
from tests.studio.bench.making import World, give_permits


@dataclass
class Passed:
    """A plan that is passed on, with the projects on it in the order of `world.plan`."""

    world: World
    plan: CutPlan
    projects: list[Project]

    @property
    def cast(self) -> Cast:
        return self.world.cast

    @property
    def stock(self) -> PlanStock:
        return self.plan.reserved.get()

    def share(self, number: int) -> PlanProject:
        return self.plan.shares.select_related("project__seat__student").get(
            project=self.projects[number]
        )

    def student(self, number: int) -> User:
        return self.projects[number].seat.student

    def step(self, kind: str) -> StockStep:
        return self.stock.steps.select_related("plan_stock").get(kind=kind)

    def do(self, kind: str, clock: Traveller, numbers: Sequence[int] | None = None) -> None:
        """The step of the whole stock piece, done as its students would."""
        first = self.student(0)
        step = start(self.step(kind), acting=first)
        if step.wait_until is not None:
            clock.move_to(step.wait_until)
        if kind == "adhere":
            for number in range(len(self.projects)) if numbers is None else numbers:
                stick(self.step(kind), self.share(number), acting=self.student(number))
        else:
            sign(self.step(kind), acting=first)
        if step.teacher_signs:
            check(self.step(kind), acting=self.cast.teacher)

    def dry(self, clock: Traveller) -> None:
        """Everything that is done once for all."""
        for kind in ("prepare", "adhere", "dry"):
            self.do(kind, clock)


def another_seat(cast: Cast, name: str = "Juno R") -> Seat:
    student = User.objects.create(
        username=name.lower().replace(" ", "."),
        display_name=name,
        role=Role.STUDENT,
        school=cast.school,
        password=cast.owner.password,
    )
    return Seat.objects.create(course=cast.course, student=student)


def passed_plan(
    world: World,
    seats: Sequence[Seat],
    places: Sequence[tuple[float, float]] | None = None,
    *,
    issued: bool = True,
    **more: object,
) -> Passed:
    """The plan of these seats on one stock piece, its metal handed out, everybody with permits."""
    projects = [world.project(seat) for seat in seats]
    plan = world.plan(projects, places, **more)  # type: ignore[arg-type]
    CutPlan.objects.filter(pk=plan.pk).update(way=CutPlan.Way.PASSED)
    plan.refresh_from_db()
    for seat in seats:
        give_permits(world.cast, seat.student)
    approve_plan(plan, acting=world.cast.teacher)
    if issued:
        issue_plan(plan, acting=world.cast.teacher)
    for project in projects:
        project.refresh_from_db()
    return Passed(world, plan, projects)
