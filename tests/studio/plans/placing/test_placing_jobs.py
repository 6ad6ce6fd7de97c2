"""Who may work on a placing job: leases, stops, reapers, and workers that come too late."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from studio.core.confining import Ended
from studio.core.cutting import Plan, job_from_json, plan_from_json
from studio.core.placing import apart
from studio.core.verifying import faults
from studio.models import CutPlan, PlacingJob
from studio.running.placing import doing as running
from studio.running.placing import reaping
from studio.steps.plans import lease
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.place import propose, stop_placing
from tests.people import Cast
from tests.racing import race
from tests.studio.plans import making
from tests.studio.plans.making import job_of, run

State = PlacingJob.State


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", cost="10.00")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    return propose([project], acting=cast.teacher, seconds=1.0)


def let_the_lease_run_out(plan: CutPlan) -> None:
    past = timezone.now() - dt.timedelta(seconds=1)
    PlacingJob.objects.filter(plan=plan).update(lease_until=past)


def test_worker_places_the_pieces_and_proposes_a_plan_without_fault(plan: CutPlan) -> None:
    assert run(plan)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.answer is not None
    answer = plan_from_json(plan.answer)
    assert not answer.unplaced
    assert not faults(job_from_json(plan.job), answer.placements)
    assert job_of(plan).state == State.DONE
    assert plan.quotes.count() == 1


def test_on_a_busy_machine_no_piece_is_left_out_for_want_of_time(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    race(monkeypatch)
    monkeypatch.setattr(running, "FIRST_PLAN_SECONDS", 1e9, raising=False)
    CutPlan.objects.filter(pk=plan.pk).update(seconds=0.001)
    assert run(plan, rounds=None)
    plan.refresh_from_db()
    assert plan.answer is not None
    assert plan.answer["status"] == "complete"


def test_second_worker_leaves_a_job_alone_that_another_one_holds(plan: CutPlan) -> None:
    assert lease.claim(job_of(plan).pk, "first") is not None
    assert lease.claim(job_of(plan).pk, "second") is None
    assert job_of(plan).worker == "first"


def test_job_is_done_once_however_often_its_task_is_delivered(plan: CutPlan) -> None:
    assert run(plan, "first")
    assert not run(plan, "second")
    assert job_of(plan).attempts == 1


def test_every_report_renews_the_lease(plan: CutPlan) -> None:
    lease.claim(job_of(plan).pk, "first")
    let_the_lease_run_out(plan)
    assert lease.report(job_of(plan).pk, "first") is lease.Word.GO_ON
    until = job_of(plan).lease_until
    assert until is not None
    assert until > timezone.now()


def test_job_whose_lease_is_over_is_taken_up_by_the_next_worker(plan: CutPlan) -> None:
    lease.claim(job_of(plan).pk, "gone")
    let_the_lease_run_out(plan)
    assert run(plan, "next")
    assert job_of(plan).attempts == 2


def engine_that(between: Callable[[], Any]) -> Callable[..., Plan]:
    """The engine, with something happening after its search and before its answer is stored."""
    real = running.place

    def place(*args: Any, **kwargs: Any) -> Plan:
        found = real(*args, **kwargs)
        between()
        return found

    return place


def test_result_of_a_worker_that_lost_its_lease_is_ignored(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def lose() -> None:
        let_the_lease_run_out(plan)
        assert lease.claim(job_of(plan).pk, "other") is not None

    monkeypatch.setattr(running, "place", engine_that(lose))
    assert not run(plan, "late")
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PLACING
    assert plan.answer is None
    assert job_of(plan).worker == "other"
    assert job_of(plan).state == State.RUNNING


def test_result_for_a_plan_that_was_dropped_meanwhile_is_ignored(
    plan: CutPlan, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(running, "place", engine_that(lambda: drop_plan(plan, acting=cast.teacher)))
    assert not run(plan)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.DROPPED
    assert not plan.quotes.exists()


def test_worker_without_the_lease_is_told_so_when_it_reports(plan: CutPlan) -> None:
    lease.claim(job_of(plan).pk, "first")
    let_the_lease_run_out(plan)
    lease.claim(job_of(plan).pk, "second")
    assert lease.report(job_of(plan).pk, "first", {"plan": "stale"}) is lease.Word.LOST
    assert job_of(plan).progress == {}


def test_stop_keeps_the_best_plan_so_far(plan: CutPlan, cast: Cast) -> None:
    CutPlan.objects.filter(pk=plan.pk).update(seconds=60.0)
    stop_placing(plan, acting=cast.teacher)  # before any worker has begun: the first plan counts
    assert run(plan, rounds=None)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.answer is not None
    assert plan.answer["status"] == "complete"
    assert plan.answer["rounds"] <= 1  # of all those that a minute holds


def test_progress_holds_a_valid_plan_and_a_falling_cost(plan: CutPlan) -> None:
    job = job_from_json(plan.job)
    kept: list[dict[str, Any]] = []
    lease.claim(job_of(plan).pk, "first")
    row = PlacingJob.objects.select_related("plan").get(plan=plan)
    watch = running.Watch(row, job, "first")

    def look(found: Plan) -> bool:
        go_on = watch.report(found)
        kept.append(job_of(plan).progress)
        return go_on

    running.place(job, rounds=2, seed=1, on_progress=look)
    stored = [progress for progress in kept if progress]
    assert stored
    for progress in stored:
        assert not faults(job, plan_from_json(progress["plan"]).placements)
        costs = [cost for _, cost in progress["curve"]]
        assert costs == sorted(costs, reverse=True)


def test_faulty_plan_is_neither_shown_nor_stored(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(running, "faults", lambda job, placements, cuts: ("a fault",))
    assert not run(plan)
    plan.refresh_from_db()
    assert plan.answer is None
    assert job_of(plan).state == State.FAILED
    assert job_of(plan).progress == {}
    assert "No plan was found that passes the check" in job_of(plan).error


def test_fault_in_the_program_ends_in_a_sentence_and_not_in_a_traceback(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any, **kwargs: Any) -> Plan:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(running, "place", broken)
    assert not run(plan)
    assert job_of(plan).state == State.FAILED
    assert "Try again" in job_of(plan).error
    assert "secret" not in job_of(plan).error


def test_a_search_apart_whose_process_died_is_taken_up_at_once(
    plan: CutPlan, queued: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def died(*args: Any, **kwargs: Any) -> Plan:
        raise apart.Died("killed")

    monkeypatch.setattr(apart, "place", died)
    with pytest.raises(apart.Died):
        running.run(job_of(plan).pk, "worker-1", apart=True)
    assert job_of(plan).state == State.RUNNING
    assert reaping.reap() == 1
    assert queued == [job_of(plan).pk]
    assert job_of(plan).attempts == 1  # it counts: what kills its search is not tried for ever


def test_a_search_apart_that_the_ending_worker_cut_short_counts_no_attempt(
    plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(*args: Any, **kwargs: Any) -> Plan:
        raise Ended

    monkeypatch.setattr(apart, "place", cut)
    again: list[int] = []
    assert not running.run(job_of(plan).pk, "worker-1", again=again.append, apart=True)
    assert job_of(plan).state == State.QUEUED
    assert job_of(plan).attempts == 0


def test_worker_places_apart(plan: CutPlan) -> None:
    assert running.run(job_of(plan).pk, "worker-1", rounds=2, apart=True)
    apart.end_the_free()
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED


def test_reaper_queues_a_lost_job_again(plan: CutPlan, queued: list[int]) -> None:
    lease.claim(job_of(plan).pk, "gone")
    assert reaping.reap() == 0  # its lease still runs
    let_the_lease_run_out(plan)
    assert reaping.reap() == 1
    assert queued == [job_of(plan).pk]
    assert job_of(plan).state == State.QUEUED
    assert reaping.reap() == 0


def test_third_lost_attempt_ends_with_a_sentence(plan: CutPlan, queued: list[int]) -> None:
    for _ in range(lease.MOST_ATTEMPTS):
        assert lease.claim(job_of(plan).pk, "gone") is not None
        let_the_lease_run_out(plan)
        reaping.reap()
    assert job_of(plan).state == State.FAILED
    assert "3 times" in job_of(plan).error
    assert len(queued) == 2
    assert lease.claim(job_of(plan).pk, "fourth") is None


def test_job_that_the_queue_lost_is_queued_once_more(plan: CutPlan, queued: list[int]) -> None:
    long_ago = timezone.now() - reaping.FORGOTTEN_AFTER - dt.timedelta(seconds=1)
    PlacingJob.objects.filter(plan=plan).update(queued_at=long_ago)
    assert reaping.reap() == 1
    assert reaping.reap() == 0
    assert queued == [job_of(plan).pk]


def test_best_plan_of_a_job_that_was_given_up_can_be_kept(plan: CutPlan, cast: Cast) -> None:
    run(plan)
    plan.refresh_from_db()
    answer = plan.answer
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.PLACING, answer=None)
    PlacingJob.objects.filter(plan=plan).update(state=State.FAILED, progress={"plan": answer})
    plan.refresh_from_db()
    stop_placing(plan, acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.answer == answer


def test_pieces_larger_than_all_metal_make_a_partial_plan_that_says_why(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", making.TAG)
    big = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, making.box(0, 0, 500, 500)
    )
    plan = making.placed(cast, big)
    assert plan.state == CutPlan.State.PROPOSED
    assert plan.answer is not None
    assert "larger than any metal" in plan.answer["unplaced"][0]["why"]
    assert not plan.quotes.exists()


def test_stored_plan_can_be_made_again_from_job_seed_and_rounds(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    projects = [
        making.approved_project(a_brief, cast.seat, metal, making.FISH, making.SAIL, copies=2),
        making.approved_project(a_brief, cast.classmate_seat, metal, making.WINDOW_TAG, copies=3),
    ]
    plan = making.placed(cast, *projects, rounds=None, seed=7)
    assert plan.answer is not None
    assert plan.engine_version
    again = running.place(job_from_json(plan.job), seed=plan.seed, rounds=plan.answer["rounds"])
    stored = plan_from_json(plan.answer)
    assert again.placements == stored.placements
    assert again.rounds == stored.rounds
