"""The first page tells teachers when the school's backups are not in order."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import translation

from classroom.models import BackupRun, User
from studio.keeping.telling import trouble
from tests.clocks import MORNING
from tests.people import Cast, make_cast, signed_in

DAY = dt.timedelta(days=1)


@pytest.fixture
def cast(db: Any, clock: Any) -> Cast:
    return make_cast()


def run(outcome: str, at: dt.datetime, *, kind: str = "daily", words: str = "") -> None:
    BackupRun.objects.create(kind=kind, outcome=outcome, at=at, words=words)


def first_page(user: User) -> str:
    client = signed_in(user)
    return client.get("/").content.decode()


def test_nothing_is_said_while_backups_are_in_order(cast: Cast) -> None:
    assert trouble(cast.teacher) is None
    run("failed", MORNING - 2 * DAY, words="The disk of /backups is full.")
    run("done", MORNING - DAY)
    assert trouble(cast.teacher) is None
    assert "backup" not in first_page(cast.teacher)


def test_a_failed_backup_is_told_with_its_reason_and_what_to_do(cast: Cast) -> None:
    run("done", MORNING - DAY)
    run("failed", MORNING, words="The disk of /backups is full. Make room there.")
    page = first_page(cast.teacher)
    assert "The last backup failed" in page
    assert "25 November, 10:00: The disk of /backups is full. Make room there." in page
    assert "Tell whoever looks after the server" in page


def test_a_good_backup_ends_the_notice(cast: Cast) -> None:
    run("failed", MORNING - DAY, words="Full.")
    assert trouble(cast.teacher) is not None
    run("done", MORNING, kind="by_hand")
    assert trouble(cast.teacher) is None


def test_a_failure_by_hand_was_seen_by_whoever_made_it(cast: Cast) -> None:
    run("failed", MORNING, kind="by_hand", words="Full.")
    assert trouble(cast.teacher) is None


def test_a_backup_that_is_too_old_is_told(cast: Cast, clock: Any) -> None:
    run("done", MORNING)
    clock.shift(2 * DAY)
    assert trouble(cast.teacher) is None
    clock.shift(DAY)
    page = first_page(cast.teacher)
    assert "The newest backup is too old" in page
    assert "It is of 25 November, 10:00." in page


def test_a_school_without_any_backup_is_told_after_two_days(cast: Cast, clock: Any) -> None:
    clock.shift(2 * DAY)
    assert trouble(cast.teacher) is None
    clock.shift(DAY)
    assert "There is no backup yet" in first_page(cast.teacher)


def test_no_student_is_told(cast: Cast) -> None:
    run("failed", MORNING, words="Full.")
    assert trouble(cast.owner) is None
    assert "backup" not in first_page(cast.owner)


PASSED_ON = "Tell the teacher who looks after the school&#x27;s settings"


def test_another_teacher_is_told_of_a_failure_and_whom_to_tell_but_not_of_the_server(
    cast: Cast,
) -> None:
    run("failed", MORNING, words="The disk of /backups is full. Make room there.")
    assert not cast.other_teacher.keeps_school
    page = first_page(cast.other_teacher)
    assert "The last backup failed" in page
    assert f"25 November, 10:00. {PASSED_ON}" in page
    assert "/backups" not in page
    assert "Tell whoever looks after the server" not in page
    assert PASSED_ON not in first_page(cast.teacher)
    run("done", MORNING + DAY)
    assert trouble(cast.other_teacher, MORNING + DAY) is None


def test_another_teacher_is_told_that_there_is_no_backup_or_an_old_one(
    cast: Cast, clock: Any
) -> None:
    clock.shift(3 * DAY)
    page = first_page(cast.other_teacher)
    assert "There is no backup yet" in page
    assert PASSED_ON in page
    assert "manage.py" not in page
    run("done", MORNING)
    page = first_page(cast.other_teacher)
    assert "The newest backup is too old" in page
    assert f"It is of 25 November, 10:00. {PASSED_ON}" in page


def test_nothing_is_said_where_the_school_backs_up_by_other_means(
    cast: Cast, clock: Any, settings: Any
) -> None:
    settings.BACKUP_DAILY = False
    clock.shift(30 * DAY)
    assert trouble(cast.teacher) is None


def test_the_notice_speaks_spanish(cast: Cast) -> None:
    run("failed", MORNING, words="Full.")
    with translation.override("es"):
        told = trouble(cast.teacher)
    assert told is not None
    assert told.title == "La última copia de seguridad ha fallado"


def test_the_notice_to_another_teacher_speaks_spanish(cast: Cast) -> None:
    with translation.override("es"):
        none = trouble(cast.other_teacher, MORNING + 3 * DAY)
        run("failed", MORNING, words="Full.")
        failed = trouble(cast.other_teacher)
        run("done", MORNING)
        old = trouble(cast.other_teacher, MORNING + 3 * DAY)
    for told in (none, failed, old):
        assert told is not None
        assert "quien lleva los ajustes de la escuela" in told.text
