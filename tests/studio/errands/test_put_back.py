"""What a worker cannot end it puts back, and a full disk is no dead worker."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.db import OperationalError
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from classroom.files.waiting_files import KEPT
from studio.core.confining import Ended
from studio.models import Errand, Pattern, Project
from studio.running import errands
from studio.running.errands import doing, keeping, lease
from studio.running.errands.doing import DOERS, run
from studio.running.errands.reaping import reap
from studio.running.naming import place_of
from studio.serving.loops import QueueLoop
from tests.people import Cast, signed_in
from tests.studio.patterns.making import words

from .making import follow, newest, send_outline, send_pattern, send_photo

QUEUED, FAILED = Errand.State.QUEUED, Errand.State.FAILED


def no_room(*_: object, **__: object) -> Any:
    """As Django passes on what SQLite says."""
    full = sqlite3.OperationalError("database or disk is full")
    raise OperationalError(str(full)) from full


def cut_short(*_: object, **__: object) -> Any:
    raise Ended


def test_an_errand_that_is_cut_short_is_put_back_without_counting_it(
    own_desk: Client, project: Project, django_capture_on_commit_callbacks: Any
) -> None:
    send_pattern(own_desk, project)
    again: list[int] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(DOERS, Errand.Kind.PATTERN, cut_short)
        with django_capture_on_commit_callbacks(execute=True):
            assert not run(newest().pk, "ends/1", again=again.append)
    errand = newest()
    assert (errand.state, errand.attempts, errand.worker) == (QUEUED, 0, "")
    assert errand.lease_until is None
    assert again == [errand.pk]
    assert run(errand.pk, "next/2")
    assert Pattern.objects.count() == 1


def test_an_errand_called_off_meanwhile_is_not_put_back(
    own_desk: Client, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    send_pattern(own_desk, project)

    def called_off(errand: Errand) -> Any:
        lease.call_off(errand)
        raise Ended

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, called_off)
    assert not run(newest().pk, "ends/1", again=lambda _: pytest.fail("queued again"))
    assert newest().state == Errand.State.OFF


def test_no_reader_takes_being_cut_short_for_a_bad_file(
    cast: Cast, own_desk: Client, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.core.reading import door, metal
    from studio.running.errands import papers

    for module in (door, metal, papers):
        monkeypatch.setattr(module, "confined", cut_short)
    teacher = signed_in(cast.teacher)
    send_pattern(own_desk, project)
    send_photo(teacher, cast, b"\xff\xd8\xff a photo")
    send_outline(teacher, cast, b"<svg xmlns='http://www.w3.org/2000/svg'/>")
    kinds = set()
    for errand in Errand.objects.all():
        kinds.add(errand.kind)
        assert not run(errand.pk, "ends/1")
        errand.refresh_from_db()
        assert (errand.state, errand.attempts) == (QUEUED, 0)
    assert kinds >= {Errand.Kind.PATTERN, Errand.Kind.METAL, Errand.Kind.OUTLINE}
    with pytest.raises(Ended):
        papers.pdf_apart("<p>a</p>", "A4")


def test_the_task_that_is_cut_short_queues_the_errand_for_the_next_worker(
    own_desk: Client,
    project: Project,
    database_queue: None,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        send_pattern(own_desk, project)
    assert DBTaskResult.objects.count() == 1
    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, cut_short)
    with django_capture_on_commit_callbacks(execute=True):
        assert QueueLoop("desk", "w", interval=1, batch=True).turn()
    waiting = DBTaskResult.objects.ready().get()
    assert waiting.args_kwargs["args"] == [newest().pk]


def test_a_dead_workers_errands_are_taken_over_at_once(own_desk: Client, project: Project) -> None:
    send_pattern(own_desk, project)
    lease.claim(newest().pk, f"{place_of(41)}/some-task")
    assert errands.take_over(4) == 0  # another process, whose number merely begins alike
    assert newest().state == Errand.State.RUNNING
    assert errands.take_over(41) == 1
    assert (newest().state, newest().attempts) == (QUEUED, 1)
    assert errands.take_over(41) == 0


def test_a_third_death_ends_an_errand_that_is_taken_over(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project)
    for _ in range(lease.MOST_ATTEMPTS):
        assert newest().state == QUEUED
        lease.claim(newest().pk, f"{place_of(41)}/some-task")
        assert errands.take_over(41) == 1
    assert newest().state == FAILED


@pytest.fixture
def full_at_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a pattern's errand would write down finds no room."""

    def bring(_: Errand) -> Callable[[], dict[str, Any]]:
        return no_room

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, bring)
    monkeypatch.setattr(doing, "PAUSES", (0, 0))


def test_a_database_without_room_ends_the_errand_in_those_words(
    own_desk: Client, project: Project, full_at_the_end: None
) -> None:
    send_pattern(own_desk, project, copies="4")
    assert run(newest().pk, "desk/1")
    assert newest().state == FAILED
    page = words(follow(own_desk))
    assert "disk is full" in page
    assert 'value="4"' in page


def test_the_words_are_written_even_where_the_files_copy_finds_no_room(
    own_desk: Client, project: Project, full_at_the_end: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    send_pattern(own_desk, project)
    monkeypatch.setattr(keeping, "keep_for_the_form", no_room)
    assert run(newest().pk, "desk/1")
    assert newest().state == FAILED
    assert "disk is full" in newest().trouble


def test_where_no_words_find_room_the_errand_waits_and_no_attempt_is_counted(
    own_desk: Client, project: Project, full_at_the_end: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    send_pattern(own_desk, project)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lease, "conclude", no_room)
        for _ in range(lease.MOST_ATTEMPTS + 1):
            assert not run(newest().pk, "desk/1", again=lambda _: pytest.fail("queued at once"))
            assert (newest().state, newest().attempts) == (QUEUED, 0)
    with time_machine.travel(timezone.now() + KEPT):
        assert reap() == 1
    assert newest().state == FAILED
    assert "disk is full" in newest().trouble


def test_a_database_that_is_away_still_leaves_the_errand_under_its_lease(
    own_desk: Client, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(_: Errand) -> Any:
        raise OperationalError("server closed the connection unexpectedly")

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, away)
    send_pattern(own_desk, project)
    with pytest.raises(OperationalError):
        run(newest().pk, "desk/1")
    assert (newest().state, newest().attempts) == (Errand.State.RUNNING, 1)
