"""One backup a day: by one machine, tried again when it failed, and the old ones let go."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import OperationalError, connections
from django.utils import timezone

from classroom.models import BackupRun
from studio.keeping import daily
from studio.keeping.daily import is_due, run_daily
from studio.keeping.proving import prove
from studio.keeping.retention import name_for, to_let_go
from studio.keeping.words import NotKept
from studio.keeping.writing import Made
from tests.people import Cast
from tests.studio.bench.making import World

# 00:30 on the wall in Halifax, the cast's school
NIGHT = dt.datetime(2026, 11, 25, 4, 30, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NIGHT, tick=False) as traveller:
        yield traveller


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Backups that only leave a file; which were asked for."""
    asked: list[Path] = []

    def make(target: Path, *, why: str) -> Made:
        asked.append(target)
        target.write_bytes(b"kept")
        return Made(target, 4, 1, 1, 0, ())

    monkeypatch.setattr(daily, "make_backup", make)
    return asked


def outcomes() -> list[tuple[str, str]]:
    return list(BackupRun.objects.order_by("pk").values_list("slot", "outcome"))


def test_the_days_backup_is_made_once_and_written_down(world: World, settings: Any) -> None:
    assert is_due()
    made = run_daily()
    assert made is not None
    assert prove(made.file)
    assert made.file.parent == settings.BACKUP_FOLDER
    assert [run.outcome for run in BackupRun.objects.order_by("pk")] == ["begun", "done"]
    newest = BackupRun.objects.order_by("-pk")[0]
    assert newest.size_bytes == made.file.stat().st_size
    assert newest.file_name == str(made.file)
    assert not is_due()
    assert run_daily() is None
    assert len(list(settings.BACKUP_FOLDER.iterdir())) == 1


@pytest.mark.django_db
def test_the_day_is_the_schools(cast: Cast, evidence: Path, quick: list[Path], clock: Any) -> None:
    assert run_daily() is not None
    clock.move_to(NIGHT + 18 * HOUR)  # the evening in Halifax, tomorrow in UTC soon
    assert not is_due()
    clock.move_to(NIGHT + 22 * HOUR)  # past midnight in UTC
    assert not is_due()
    clock.move_to(NIGHT + 24 * HOUR)
    assert is_due()


@pytest.mark.django_db
def test_a_clock_that_is_put_back_neither_doubles_nor_stops_backups(
    cast: Cast, evidence: Path, quick: list[Path], clock: Any
) -> None:
    assert run_daily() is not None
    clock.move_to(NIGHT - HOUR)  # before midnight again
    run_daily()
    clock.move_to(NIGHT)
    assert run_daily() is None
    clock.move_to(NIGHT + 24 * HOUR)
    assert run_daily() is not None


@pytest.mark.django_db
def test_a_failed_backup_is_written_down_and_tried_again_after_an_hour(
    cast: Cast, evidence: Path, clock: Any, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.BACKUP_FOLDER.mkdir()
    old = settings.BACKUP_FOLDER / name_for("daily", NIGHT - dt.timedelta(days=40))
    old.write_bytes(b"the only one")

    def full(target: Path, *, why: str) -> Made:
        raise NotKept("The disk of /backups is full.")

    monkeypatch.setattr(daily, "make_backup", full)
    with pytest.raises(NotKept):
        run_daily()
    assert outcomes() == [("2026-11-25/1", "begun"), ("2026-11-25/1", "failed")]
    assert BackupRun.objects.get(outcome="failed").words == "The disk of /backups is full."
    assert old.exists()
    clock.shift(HOUR / 2)
    assert run_daily() is None
    clock.shift(HOUR)
    with pytest.raises(NotKept):
        run_daily()
    assert outcomes()[-1] == ("2026-11-25/2", "failed")


@pytest.mark.django_db
def test_a_folder_that_cannot_be_made_is_written_down(
    cast: Cast, evidence: Path, settings: Any, tmp_path: Path
) -> None:
    (tmp_path / "file").write_bytes(b"")
    settings.BACKUP_FOLDER = tmp_path / "file" / "backups"
    with pytest.raises(NotKept):
        run_daily()
    assert "cannot be made" in BackupRun.objects.get(outcome="failed").words


@pytest.mark.django_db
def test_a_backup_that_was_stopped_is_written_down(
    cast: Cast, evidence: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(target: Path, *, why: str) -> Made:
        raise SystemExit(143)

    monkeypatch.setattr(daily, "make_backup", stopped)
    with pytest.raises(SystemExit):
        run_daily()
    assert "stopped" in BackupRun.objects.get(outcome="failed").words


@pytest.mark.django_db
def test_a_run_that_never_said_how_it_ended_is_taken_for_lost(
    cast: Cast, evidence: Path, quick: list[Path], clock: Any
) -> None:
    BackupRun.objects.create(kind="daily", outcome="begun", slot="2026-11-25/1")
    assert not is_due()
    clock.shift(daily.SILENT)
    assert run_daily() is not None
    assert outcomes()[-1] == ("2026-11-25/2", "done")


@pytest.mark.django_db(transaction=True)
def test_of_several_machines_one_makes_the_days_backup(
    cast: Cast, evidence: Path, quick: list[Path]
) -> None:
    together = threading.Barrier(4)
    made: list[Made | None] = []
    real = daily._take

    def at_once(slot: str, now: dt.datetime) -> bool:
        together.wait(timeout=60)  # all have seen that it is due
        return real(slot, now)

    def machine() -> None:
        try:
            made.append(run_daily())
        finally:
            connections.close_all()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(daily, "_take", at_once)
        machines = [threading.Thread(target=machine) for _ in range(4)]
        for one in machines:
            one.start()
        for one in machines:
            one.join()
    assert len(made) == 4
    assert len([one for one in made if one is not None]) == len(quick) == 1
    assert BackupRun.objects.filter(outcome="begun").count() == 1


@pytest.mark.django_db
def test_a_full_database_disk_does_not_stop_the_backup_and_leaves_a_line(
    cast: Cast,
    evidence: Path,
    quick: list[Path],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def full(**_: object) -> None:
        raise OperationalError("database or disk is full")

    monkeypatch.setattr(BackupRun.objects, "create", full)
    with caplog.at_level(logging.WARNING):
        assert run_daily() is not None
    assert "could not be written down: database or disk is full" in caplog.text
    assert not is_due()  # known from the folder
    assert len(quick) == 1


@pytest.mark.django_db
def test_without_a_school_or_switched_off_nothing_is_made(
    evidence: Path, quick: list[Path], settings: Any
) -> None:
    assert run_daily() is None
    from tests.people import make_cast

    make_cast()
    settings.BACKUP_DAILY = False
    assert not is_due()
    assert run_daily() is None
    assert quick == []
    assert not BackupRun.objects.exists()


def test_seven_days_and_four_weeks_are_kept(tmp_path: Path) -> None:
    kept: list[str] = []
    day = dt.datetime(2026, 9, 1, 4, tzinfo=dt.UTC)
    for number in range(100):
        now = day + dt.timedelta(days=number)
        kept = [*kept, name_for("daily", now)]
        gone = to_let_go(kept, now, days=7, weeks=4)
        kept = [name for name in kept if name not in gone]
        assert name_for("daily", now) in kept
    days = [name.removeprefix("daily-")[:10] for name in kept]
    # 9 December 2026 is a Wednesday: seven days, and the Sundays of the weeks before
    assert days == [
        "2026-11-22",
        "2026-11-29",
        "2026-12-03",
        "2026-12-04",
        "2026-12-05",
        "2026-12-06",
        "2026-12-07",
        "2026-12-08",
        "2026-12-09",
    ]


def test_what_is_not_ours_is_never_let_go() -> None:
    now = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
    others = ["holiday.zip", "daily-2020-13-45-999999.zip", "daily-2020-01-01-000000.zip.old", "x"]
    assert to_let_go(others, now, days=0, weeks=0) == []


def test_the_newest_is_kept_however_old_it_is() -> None:
    now = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
    old = [name_for("daily", now - dt.timedelta(days=days)) for days in (400, 300)]
    assert to_let_go(old, now, days=7, weeks=4) == [old[0]]


def test_backups_before_upgrades_go_after_the_weeks_and_beyond_three() -> None:
    now = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
    made = [name_for("before-upgrade", now - dt.timedelta(days=days)) for days in (60, 9, 8, 7, 6)]
    assert to_let_go(made, now, days=7, weeks=4) == made[:2]


@pytest.mark.django_db
def test_old_backups_and_what_broken_runs_left_go_after_a_good_one(
    cast: Cast, evidence: Path, quick: list[Path], settings: Any
) -> None:
    import os

    folder = settings.BACKUP_FOLDER
    folder.mkdir()
    long_ago = timezone.now() - dt.timedelta(days=90)
    old, other = folder / name_for("daily", long_ago), folder / "thesis.zip"
    for path in (old, other):
        path.write_bytes(b"x")
    left, fresh = folder / ".unfinished-backup-abc", folder / ".unfinished-backup-def"
    for path in (left, fresh):
        path.mkdir()
    os.utime(left, (long_ago.timestamp(), long_ago.timestamp()))
    made = run_daily()
    assert made is not None
    assert set(folder.iterdir()) == {made.file, other, fresh}
