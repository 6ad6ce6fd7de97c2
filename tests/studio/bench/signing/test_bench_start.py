"""Handing metal out makes the bench steps, once, with the wording of that day."""

from __future__ import annotations

import pytest

from classroom.refusals import Refused
from studio.core.bench.planned import PlannedBenchStep, wording_sha
from studio.models import BenchStep, Project
from studio.steps.bench.begin import make_bench_steps
from tests.shapes import SQUARE_40
from tests.studio.bench.making import World, step_of


def test_handing_metal_out_makes_all_seven_steps_in_order(world: World) -> None:
    project = world.at_bench()
    kinds = list(project.bench_steps.values_list("number", "kind"))
    assert kinds == list(
        enumerate(["prepare", "adhere", "dry", "drill", "saw", "remove", "finish"], start=1)
    )


def test_a_piece_without_holes_has_no_drill_step(world: World) -> None:
    project = world.project(world.cast.seat, SQUARE_40)
    world.issued(project)
    assert not project.bench_steps.filter(kind="drill").exists()


def test_making_the_steps_again_gives_the_same_ones(world: World) -> None:
    project = world.at_bench()
    before = list(project.bench_steps.values_list("pk", flat=True))
    assert [step.pk for step in make_bench_steps(project)] == before
    assert BenchStep.objects.filter(project=project).count() == len(before)


def test_waits_permits_and_signers_come_from_brief_and_texts(world: World) -> None:
    world.brief.dry_minutes, world.brief.soak_minutes = 25, 7
    world.brief.save()
    project = world.at_bench()
    waits = {step.kind: step.wait_minutes for step in project.bench_steps.all()}
    assert {kind: wait for kind, wait in waits.items() if wait} == {"dry": 25, "remove": 7}
    assert step_of(project, "drill").permits == ["drill-press"]
    signed = project.bench_steps.filter(teacher_signs=True).values_list("kind", flat=True)
    assert list(signed) == ["dry", "drill", "finish"]


def test_the_wording_is_frozen_and_its_hash_tells(world: World) -> None:
    project = world.at_bench()
    world.brief.dry_minutes = 1
    world.brief.save()
    for step in make_bench_steps(project):
        plan = PlannedBenchStep.from_json(step.wording)
        assert wording_sha(plan) == step.wording_sha
    assert step_of(project, "dry").wait_minutes == 20


def test_every_copy_of_the_pattern_counts_at_the_drill(world: World) -> None:
    project = world.project(world.cast.seat)
    project.patterns.update(copies=2)
    steps = make_bench_steps(project)
    drill = next(step for step in steps if step.kind == "drill")
    assert "2 pilot holes and 2 other drill marks" in drill.wording["do"][0]


def test_a_brief_with_an_unknown_blade_is_refused_in_words(world: World) -> None:
    world.brief.blade = "9/9"
    world.brief.save()
    project = world.project(world.cast.seat)
    with pytest.raises(Refused, match="Change the brief “Key tag”"):
        make_bench_steps(project)
    assert not project.bench_steps.exists()


def test_a_project_without_an_approved_pattern_has_no_steps(world: World) -> None:
    project = world.project(world.cast.seat)
    project.patterns.update(state="returned")
    with pytest.raises(Refused, match="no approved pattern"):
        make_bench_steps(project)


def test_steps_are_not_made_for_metal_that_is_only_reserved(world: World) -> None:
    project = world.project(world.cast.seat)
    world.approved(project)
    project.refresh_from_db()
    assert project.stage == Project.Stage.PLANNED
    assert not project.bench_steps.exists()
