"""The search in a process of its own: the same plans, and whatever becomes of that process."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest

from studio.core import confining
from studio.core.confining import Ended, end_all
from studio.core.cutting import Plan, job_from_json, job_to_json
from studio.core.placing import apart, place
from studio.core.verifying import faults
from tests.core.holding import held, needs_holding
from tests.core.placing import strange_searches
from tests.core.placing.jobs import class_job
from tests.running.house import wait_for

JOB = job_from_json(job_to_json(class_job()))  # to the nanometre, as plans are stored
SOON = 60.0  # seconds; a busy machine takes its time


@pytest.fixture(autouse=True)
def _none_is_left() -> Iterator[None]:
    yield
    apart.end_the_free()


def process_of(searching: apart.Searching) -> Any:
    return searching._child


def test_a_search_apart_finds_the_very_plan_that_one_here_finds() -> None:
    seen: list[Plan] = []

    def look(plan: Plan) -> bool:
        seen.append(plan)
        return True

    here = place(JOB, rounds=3, seed=5)
    there = apart.place(JOB, rounds=3, seed=5, on_progress=look)
    assert there.placements == here.placements
    assert there.rounds == here.rounds == 3
    shown = [plan for plan in seen if plan.placements]
    assert shown
    assert all(faults(JOB, plan.placements) == () for plan in shown)


def test_the_process_stays_for_the_next_job() -> None:
    apart.place(JOB, rounds=1)
    (first,) = apart._FREE
    apart.place(JOB, rounds=1)
    assert [first] == apart._FREE
    assert first.is_alive


def test_a_search_that_is_told_to_stop_hands_out_its_best_plan() -> None:
    found = apart.place(JOB, rounds=10**9, on_progress=lambda plan: not plan.placements)
    assert found.status == "complete"


def test_the_caller_gets_words_while_the_search_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that is hardly running yet must not cost its caller the lease."""
    monkeypatch.setattr(apart, "WORD_SECONDS", 0.005)
    words: list[bool] = []

    def listen(plan: Plan) -> bool:
        words.append(plan is apart.NOTHING_YET)
        return True

    apart.place(JOB, rounds=1, on_progress=listen)
    assert words[:3] == [True] * 3  # it takes longer than that to load


def test_a_search_whose_process_dies_is_told_and_the_next_one_gets_another() -> None:
    apart.get_ready()
    (first,) = apart._FREE

    def kill(plan: Plan) -> bool:
        process_of(first).kill()
        return True

    with pytest.raises(apart.Died):
        apart.place(JOB, rounds=10**9, on_progress=kill)
    wait_for(lambda: not first.is_alive, SOON)
    assert apart._FREE == []
    assert apart.place(JOB, rounds=1).status == "complete"


def test_a_process_that_died_while_nothing_was_to_do_is_replaced() -> None:
    apart.get_ready()
    process_of(apart._FREE[0]).kill()
    process_of(apart._FREE[0]).wait()
    assert apart.place(JOB, rounds=1).status == "complete"


def test_a_worker_that_ends_cuts_the_search_short_which_is_no_fault_of_the_job() -> None:
    said: list[BaseException] = []
    began = threading.Event()

    def begun(plan: Plan) -> bool:
        began.set()
        return True

    def ask() -> None:
        try:
            apart.place(JOB, rounds=10**9, on_progress=begun)
        except Exception as error:
            said.append(error)

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    assert began.wait(120)
    end_all()
    asking.join(timeout=60)
    assert [type(error) for error in said] == [Ended]


def test_a_search_that_hangs_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "WORD_SECONDS", 0.005)
    monkeypatch.setattr(apart, "HUNG_SECONDS", -1e9)
    with pytest.raises(apart.Died, match="did not end"):
        apart.place(JOB, seconds=1e6)
    assert apart._FREE == []


def test_a_fault_of_the_search_comes_with_its_traceback_and_nothing_of_it_is_kept() -> None:
    with pytest.raises(apart.Fault, match="Traceback"):
        apart.place(JOB, rounds=1, seed="no number")  # type: ignore[arg-type]
    assert apart._FREE == []
    assert apart.place(JOB, rounds=1).status == "complete"


def test_a_fault_of_the_caller_on_the_way_comes_out_as_it_is_and_ends_the_search() -> None:
    apart.get_ready()
    (first,) = apart._FREE

    def broken(plan: Plan) -> bool:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        apart.place(JOB, rounds=10**9, on_progress=broken)
    assert apart._FREE == []
    wait_for(lambda: not first.is_alive, SOON)


@pytest.mark.parametrize(
    "strange", [strange_searches.HALF_A_LINE, strange_searches.NO_MEMORY, strange_searches.GONE]
)
def test_a_process_that_ends_in_any_way_is_one_that_died(
    strange: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "PROCESS", strange_searches.__name__)
    with pytest.raises(apart.Died):
        apart.place(JOB, rounds=1, seed=strange)
    assert apart._FREE == []


def test_what_a_library_prints_is_no_word_of_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "PROCESS", strange_searches.__name__)
    seed = strange_searches.CHATTER
    found = apart.place(JOB, rounds=1, seed=seed)
    assert found.placements == place(JOB, rounds=1, seed=seed).placements


def test_no_process_for_the_search_is_one_that_died(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError("no memory")

    monkeypatch.setattr(confining.subprocess, "Popen", none)
    apart.get_ready()
    with pytest.raises(apart.Died, match="no memory"):
        apart.place(JOB, rounds=1)


def test_no_thread_for_the_search_leaves_no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(_: object) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", none)
    with pytest.raises(apart.Died):
        apart.place(JOB, rounds=1)
    assert not confining._RUNNING


@needs_holding
def test_whoever_is_cut_short_does_not_wait_for_the_end_of_the_process() -> None:
    apart.get_ready()
    (first,) = apart._FREE

    def cut(plan: Plan) -> bool:
        end_all()
        return True

    with held(process_of(first)):
        with pytest.raises(Ended):
            apart.place(JOB, rounds=10**9, on_progress=cut)
        assert first.is_alive
    wait_for(lambda: not first.is_alive, SOON)
