"""Pieces added to metal at the bench, made through the house's own steps."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from unittest.mock import patch

from shapely.geometry import box

from classroom.models import Seat, User
from studio.core.cutting import plan_to_json
from studio.core.placing import place
from studio.models import BenchStep, Brief, CutPlan, PlanProject, Project
from studio.steps.plans.adding import add_to
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.propose import propose_answer
from tests.studio.bench.making import World

SMALL = box(0, 0, 18, 12)


def another(world: World, seat: Seat | None = None) -> Project:
    """A project of a further brief of the same course, with a small piece."""
    brief = Brief.objects.create(
        course=world.cast.course,
        title=f"Brief {Brief.objects.count()}",
        allowance=Decimal(9),
        created_by=world.cast.teacher,
    )
    return replace(world, brief=brief).project(seat or world.cast.seat, SMALL)


def laid(added: CutPlan) -> CutPlan:
    """What a worker would do."""
    answer = place(added.asked, seconds=5.0, seed=1, rounds=1)
    assert propose_answer(added, plan_to_json(answer))
    added.refresh_from_db()
    return added


def add(base: CutPlan, project: Project, acting: User) -> CutPlan:
    with patch("studio.steps.plans.adding.place_plan"):
        return add_to(base, project, acting=acting)


def added_and_issued(world: World, base: CutPlan) -> tuple[Project, CutPlan]:
    more = another(world)
    plan = laid(add(base, more, world.cast.owner))
    approve_plan(plan, acting=world.cast.teacher)
    issue_plan(plan, acting=world.cast.teacher)
    more.refresh_from_db()
    return more, plan


def placed_and_issued(world: World, project: Project) -> CutPlan:
    """The project's plan as the engine lays it and the rack gets its offcuts, handed out."""
    pattern = project.patterns.select_related("project__brief").get()
    plan = CutPlan.objects.create(
        course=world.cast.course,
        metal=world.metal,
        job=make_job([pattern], world.sheets[:1], world.cast.school),
        created_by=world.cast.teacher,
    )
    PlanProject.objects.create(plan=plan, project=project, pattern=pattern)
    approve_plan(laid(plan), acting=world.cast.teacher)
    issue_plan(plan, acting=world.cast.teacher)
    project.refresh_from_db()
    plan.refresh_from_db()
    return plan


def start(project: Project, *kinds: str) -> None:
    now = "2026-09-09T10:00Z"
    steps = BenchStep.objects.filter(project=project, kind__in=kinds)
    assert steps.update(started_at=now, student_signed_at=now, done_at=now) == len(kinds)
