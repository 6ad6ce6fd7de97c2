"""Whatever teacher and students press, in whatever order: who starts has the metal in hand.

The reference is kept by the test itself, from what it pressed and what was answered.
"""

from __future__ import annotations

import random

import pytest
from time_machine import Traveller

from classroom.refusals import Refused
from studio.models import BenchStep, MetalHolder
from studio.steps.bench.sign import check_step, override_step, sign_done, start_step
from studio.steps.sharing.holding import hand_on
from tests.studio.bench.making import World, step_of

from .making import another_seat, passed_plan

pytestmark = pytest.mark.django_db

PRESSES = 120
KINDS = ("drill", "saw", "remove", "finish")


@pytest.mark.parametrize("seed", range(3))
def test_who_starts_has_the_metal_in_hand(world: World, clock: Traveller, seed: int) -> None:
    cast = world.cast
    passed = passed_plan(
        world,
        [cast.seat, cast.classmate_seat, another_seat(cast)],
        [(2.0, 2.0), (42.0, 2.0), (82.0, 2.0)],
    )
    passed.dry(clock)
    rng = random.Random(seed)
    holder: int | None = 0
    sawn: set[int] = set()
    refused = started = 0
    for _ in range(PRESSES):
        clock.shift(60)
        number = rng.randrange(3)
        project, student = passed.projects[number], passed.student(number)
        current = project.bench_steps.filter(done_at=None).first()
        kind = current.kind if current is not None and rng.random() < 0.7 else rng.choice(KINDS)
        step = step_of(project, kind)
        was_begun = step.started_at is not None
        press = rng.choice(("start", "start", "sign", "check", "override", "hand", "wait"))
        try:
            if press == "start":
                start_step(step, acting=student)
            elif press == "sign":
                sign_done(step, acting=student)
            elif press == "check":
                check_step(step, acting=cast.teacher)
            elif press == "override":
                done = rng.random() < 0.5
                override_step(step, acting=cast.teacher, reason="shown", mark_done=done)
            elif press == "hand":
                to = rng.choice((0, 1, 2, None))
                share = passed.share(to) if to is not None else None
                hand_on(passed.stock, share, acting=cast.teacher, reason="next")
                holder = to
            else:
                clock.shift(3600)
        except Refused:
            refused += 1
        if not was_begun and step_of(project, kind).started_at is not None:
            started += 1
            assert holder == number or number in sawn, f"{press} of {kind} by {number}"
        sawn = {
            n
            for n in range(3)
            if BenchStep.objects.filter(
                project=passed.projects[n], kind="saw", done_at__isnull=False
            ).exists()
        }
    row = MetalHolder.objects.order_by("at", "pk").last()
    assert row is not None
    assert row.share == (passed.share(holder) if holder is not None else None)
    assert refused
    assert started
