"""No student's step starts while the metal is another's: on no page, no tablet, in no way."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from time_machine import Traveller

from classroom.refusals import Refused
from studio.core.cutting import Placement, Plan, job_from_json, plan_to_json
from studio.core.verifying import measure
from studio.models import BenchStep, BenchTablet, CutPlan, PlanProject, SignOff
from studio.queries.bench import at_the_bench_for
from studio.steps.bench import rules
from studio.steps.bench.rules import Phase, Rule
from studio.steps.bench.sign import override_step, sign_done, start_step
from studio.steps.bench.situation import situation, situations
from studio.steps.bench.tablet import open_tablet, sign_on_tablet
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import make_quotes
from studio.steps.sharing.holding import hand_on
from studio.steps.sharing.sticking import stand_in
from studio.steps.sharing.stock_steps import override, start
from tests.people import PASSPHRASE, signed_in
from tests.studio.bench.making import World, do_step, give_permits, step_of

from .making import Passed, another_seat, passed_plan

pytestmark = pytest.mark.django_db

DRILL = "drill"
Way = Callable[[Passed, BenchTablet], object]


def _on_the_page(passed: Passed, tablet: BenchTablet) -> object:
    pk = step_of(passed.projects[1], DRILL).pk
    return signed_in(passed.cast.classmate).post(reverse("step_start", args=[pk]))


def _by_the_pages_script(passed: Passed, tablet: BenchTablet) -> object:
    pk = step_of(passed.projects[1], DRILL).pk
    client = signed_in(passed.cast.classmate)
    answer = client.post(reverse("step_start", args=[pk]), headers={"accept": "application/json"})
    assert answer.status_code == 409
    assert "Student A has" in answer.json()["text"]
    return answer


def _on_the_tablet(passed: Passed, tablet: BenchTablet) -> object:
    client = signed_in(passed.cast.teacher)
    client.post(reverse("tablet_open", args=[passed.cast.course.pk]))
    project = passed.projects[1]
    data = {
        "step": step_of(project, DRILL).pk,
        "what": "start",
        "key": uuid.uuid4(),
        "passphrase": PASSPHRASE,
    }
    answer = client.post(reverse("tablet_sign", args=[project.seat_id]), data)
    assert answer.status_code == 409
    return answer


def _by_the_verb(passed: Passed, tablet: BenchTablet) -> object:
    with pytest.raises(Refused, match="Student A has"):
        start_step(step_of(passed.projects[1], DRILL), acting=passed.cast.classmate)
    return None


def _by_the_tablets_verb(passed: Passed, tablet: BenchTablet) -> object:
    step = step_of(passed.projects[1], DRILL)
    with pytest.raises(Refused, match="Student A has"):
        sign_on_tablet(tablet, step, what="start", key=uuid.uuid4(), acting=passed.cast.classmate)
    return None


def _by_lifting_the_rule(passed: Passed, tablet: BenchTablet) -> object:
    pk = step_of(passed.projects[1], DRILL).pk
    client = signed_in(passed.cast.teacher)
    for way in ("go_on", "mark_done"):
        client.post(reverse("step_override", args=[pk]), {"way": way, "reason": "hurry"})
    return None


def _by_lifting_the_rule_of_a_later_step(passed: Passed, tablet: BenchTablet) -> object:
    for kind in ("saw", "remove", "finish"):
        for mark_done in (False, True):
            with pytest.raises(Refused, match="Student A has"):
                override_step(
                    step_of(passed.projects[1], kind),
                    acting=passed.cast.teacher,
                    reason="hurry",
                    mark_done=mark_done,
                )
    return None


def _on_the_class_bench(passed: Passed, tablet: BenchTablet) -> object:
    choice = f"{step_of(passed.projects[1], DRILL).pk}@2026-11-24T10:00:00+00:00"
    client = signed_in(passed.cast.teacher)
    address = reverse("steps_check", args=[passed.cast.course.pk])
    return client.post(address, {"step": choice})


WAYS: list[Way] = [
    _on_the_page,
    _by_the_pages_script,
    _on_the_tablet,
    _by_the_verb,
    _by_the_tablets_verb,
    _by_lifting_the_rule,
    _by_lifting_the_rule_of_a_later_step,
    _on_the_class_bench,
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__.strip("_"))
def test_no_step_starts_while_the_metal_is_anothers(
    passed: Passed, clock: Traveller, way: Way
) -> None:
    passed.dry(clock)
    tablet, _ = open_tablet(passed.cast.course, acting=passed.cast.teacher)
    way(passed, tablet)
    steps = BenchStep.objects.filter(project=passed.projects[1])
    assert not steps.filter(started_at__isnull=False).exists()
    assert not SignOff.objects.filter(step__in=steps).exists()
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    assert start_step(step_of(passed.projects[1], DRILL), acting=passed.cast.classmate).started_at


def test_a_page_that_was_loaded_with_the_metal_in_hand_is_refused_after_it_was_handed_on(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    step = step_of(passed.projects[0], DRILL)  # as the page has it
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    with pytest.raises(Refused, match="Student B has"):
        start_step(step, acting=passed.cast.owner)


def test_metal_on_the_shelf_is_nobodys(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    hand_on(passed.stock, None, acting=passed.cast.teacher)
    for project in passed.projects:
        with pytest.raises(Refused, match="lies on the shelf"):
            start_step(step_of(project, DRILL), acting=project.seat.student)


def test_nothing_starts_before_the_papers_are_dry(passed: Passed, clock: Traveller) -> None:
    for kind in ("prepare", "adhere", "dry"):
        for project in passed.projects:
            with pytest.raises(Refused, match="done once for all"):
                start_step(step_of(project, DRILL), acting=project.seat.student)
        passed.do(kind, clock)
    assert start_step(step_of(passed.projects[0], DRILL), acting=passed.cast.owner).started_at


def test_what_was_started_with_the_metal_in_hand_may_be_signed_later(
    passed: Passed, clock: Traveller
) -> None:
    """The work was done; its next step needs the metal again."""
    passed.dry(clock)
    start_step(step_of(passed.projects[0], DRILL), acting=passed.cast.owner)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    signed = sign_done(step_of(passed.projects[0], DRILL), acting=passed.cast.owner)
    assert signed.student_signed_at is not None
    on = situation(passed.projects[0])
    saw = step_of(passed.projects[0], "saw")
    assert Rule.HOLDER in {one.rule for one in rules.to_start(saw, on)}


def test_own_pieces_that_are_sawn_out_are_finished_without_the_rest(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    for kind in ("drill", "saw"):
        do_step(passed.projects[0], kind, clock, passed.cast)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    start = start_step(step_of(passed.projects[0], "remove"), acting=passed.cast.owner)
    assert start.started_at is not None


def test_who_lies_on_two_stock_pieces_needs_both(world: World, clock: Traveller) -> None:
    """Three students on two sheets: the one on both may not begin while one of them is out."""
    cast = world.cast
    third = another_seat(cast)
    projects = [world.project(seat) for seat in (cast.seat, cast.classmate_seat, third)]
    pattern = projects[0].patterns.get()
    pattern.copies = 2
    pattern.save(update_fields=["copies"])

    patterns = [project.patterns.get() for project in projects]
    data = make_job(patterns, world.sheets, cast.school)
    job = job_from_json(data)
    first, second = (sheet.code for sheet in world.sheets)
    places = [(0, 0, first, 2.0), (0, 1, second, 2.0), (1, 0, first, 42.0), (2, 0, second, 42.0)]
    placements = tuple(
        Placement(job.pieces[n].id, copy, code, False, 0.0, x, 2.0) for n, copy, code, x in places
    )
    measures, offcuts = measure(job, placements)
    plan = CutPlan.objects.create(
        course=cast.course,
        metal=world.metal,
        state=CutPlan.State.PROPOSED,
        way=CutPlan.Way.PASSED,
        job=data,
        answer=plan_to_json(Plan(placements, (), measures, offcuts, 1, 0.1, 1)),
        created_by=cast.teacher,
    )
    for project, placed in zip(projects, patterns, strict=True):
        PlanProject.objects.create(plan=plan, project=project, pattern=placed)
    make_quotes(plan)
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    for seat in (cast.seat, cast.classmate_seat, third):
        give_permits(cast, seat.student)
    assert sorted(plan.shares.values_list("turn", flat=True)) == [1, 2, 3]

    for row in plan.reserved.all():
        for kind in ("prepare", "adhere", "dry"):
            step = row.steps.select_related("plan_stock").get(kind=kind)
            if kind == "adhere":
                start(step, acting=cast.teacher)
                for share in plan.shares.all():
                    lies = (share.project_id, row.stock_piece.code) in {
                        (projects[n].pk, code) for n, _, code, _ in places
                    }
                    if lies:
                        stand_in(step, share, cast.teacher, acting=cast.teacher, reason="test")
            else:
                override(step, acting=cast.teacher, reason="test", mark_done=True)
    on_both = plan.shares.get(project=projects[0])
    one, other = plan.reserved.order_by("pk")
    hand_on(one, on_both, acting=cast.teacher)
    hand_on(other, plan.shares.get(project=projects[2]), acting=cast.teacher)
    with pytest.raises(Refused, match="Student C has"):
        start_step(step_of(projects[0], DRILL), acting=cast.owner)
    hand_on(other, on_both, acting=cast.teacher)
    assert start_step(step_of(projects[0], DRILL), acting=cast.owner).started_at is not None


def test_the_first_turn_is_a_matter_of_turn_and_stops_nobody(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    on = situation(passed.projects[1])
    step = step_of(passed.projects[1], DRILL)
    assert rules.phase(step, on) is Phase.SHARED


def test_looking_at_more_benches_asks_no_more(world: World, clock: Traveller) -> None:

    def queries() -> int:
        projects = list(at_the_bench_for(world.cast.teacher, world.cast.course))
        with CaptureQueriesContext(connection) as found:
            situations(projects, world.cast.school)
        return len(found)

    first = passed_plan(world, [world.cast.seat, world.cast.classmate_seat])
    first.dry(clock)
    few = queries()
    more = passed_plan(
        world,
        [another_seat(world.cast, name) for name in ("Juno R", "Per A", "Ida M")],
        [(2.0, 2.0), (42.0, 2.0), (2.0, 42.0)],
        sheets=world.sheets[1:],
    )
    more.dry(clock)
    assert queries() == few
