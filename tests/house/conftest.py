"""Something of every kind, for walks over all addresses."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.base import ContentFile

from classroom.models import BenchPermit, Incident
from studio.models import Layout, StockStep
from studio.steps.bench.tablet import open_tablet
from studio.steps.patterns.sheet_picture import keep_paper
from studio.steps.sharing.parting.part import sign_parted, start_parting
from tests.classroom.passing import fail_questions
from tests.people import Cast
from tests.studio.bench.making import World, give_permits, make_world
from tests.studio.sharing.making import handed_out, parted
from tests.studio.sharing.passed_on.making import another_seat, passed_plan


@pytest.fixture
def numbers(cast: Cast) -> dict[str, int]:
    """The primary key of one of each kind of thing, all of them the owner's or the teacher's."""
    world: World = make_world(cast, sheets=3)
    project = world.at_bench()
    (permit,) = give_permits(cast, cast.owner, "saw-frame")
    assert isinstance(permit, BenchPermit)
    share = project.plan_shares.get()
    share.pattern.file.save("tag.svg", ContentFile(b"<svg/>"))
    keep_paper(share.pattern, b"the small picture of a sheet")
    step = project.bench_steps.first()
    assert step is not None
    tablet, _ = open_tablet(cast.course, acting=cast.teacher)
    incident = Incident.objects.create(
        school=cast.school,
        number=1,
        course=cast.course,
        written_by=cast.teacher,
        happened_at=dt.datetime(2026, 11, 24, 9, tzinfo=dt.UTC),
    )
    layout = Layout.objects.create(
        project=project,
        pattern=share.pattern,
        number=1,
        owner=cast.owner,
        job=share.plan.job,
    )
    seats = [another_seat(cast, name) for name in ("Juno R", "Per A")]
    shared = passed_plan(world, seats, sheets=world.sheets[1:2])
    others = [world.project(another_seat(cast, name)) for name in ("Siv L", "Ivo N")]
    parted_plan = handed_out(world, parted(world, *others, sheet=world.sheets[2]))
    part_step = StockStep.objects.get(plan_stock__plan=parted_plan)
    start_parting(part_step, acting=cast.teacher)
    entry = sign_parted(part_step, acting=cast.teacher)[-1]
    return {
        "parted": parted_plan.pk,
        "own_plan": parted_plan.own_plans.order_by("pk")[0].pk,
        "part_step": part_step.pk,
        "part_entry": entry.pk,
        "shared": shared.stock.pk,
        "stock_step": shared.step("prepare").pk,
        "course": cast.course.pk,
        "seat": cast.seat.pk,
        "brief": project.brief_id,
        "project": project.pk,
        "pattern": share.pattern_id,
        "plan": share.plan_id,
        "layout": layout.pk,
        "step": step.pk,
        "permit": permit.pk,
        "tablet": tablet.pk,
        "attempt": fail_questions(cast.owner, permit.topic).pk,
        "incident": incident.pk,
    }
