"""One backup a day: by one machine, tried again when it failed, and the old ones let go."""

from __future__ import annotations

import datetime as dt
import errno
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.db import OperationalError, connections
from django.utils import timezone

from classroom.models import BackupRun
from studio.keeping import daily
from studio.keeping.daily import is_due, run_daily
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept
from studio.keeping.retention import name_for, to_let_go
from studio.keeping.telling import trouble
from studio.keeping.writing import Made
from studio.serving import lifeline
from studio.serving.opening import todays_backup
from tests.people import Cast
from tests.running.house import ROOT, said_by, wait_for
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
def test_a_folder_that_cannot_be_made_is_a_failure_told_and_tried_again_after_an_hour(
    cast: Cast, evidence: Path, quick: list[Path], clock: Any, tmp_path: Path, settings: Any
) -> None:
    (tmp_path / "file").write_bytes(b"no folder")
    settings.BACKUP_FOLDER = tmp_path / "file" / "backups"
    with pytest.raises(NotKept, match="cannot be made"):
        run_daily()
    assert outcomes() == [("2026-11-25/1", "begun"), ("2026-11-25/1", "failed")]
    told = trouble(cast.teacher)
    assert told is not None
    assert "cannot be made" in told.text
    clock.shift(HOUR / 2)
    assert not is_due()
    clock.shift(HOUR)
    settings.BACKUP_FOLDER = tmp_path / "backups"
    assert run_daily() is not None
    assert trouble(cast.teacher) is None


@pytest.mark.django_db
def test_a_folder_that_cannot_be_read_is_a_failure_and_told(
    cast: Cast, evidence: Path, clock: Any, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.BACKUP_FOLDER.mkdir()
    readable = Path.iterdir

    def refused(path: Path) -> Iterator[Path]:
        if path == settings.BACKUP_FOLDER:
            raise PermissionError(errno.EACCES, "Permission denied")
        return readable(path)

    def may_not(target: Path, *, why: str) -> Made:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refused)
    monkeypatch.setattr(daily, "make_backup", may_not)
    assert is_due()
    with pytest.raises(PermissionError):
        run_daily()
    assert outcomes()[-1] == ("2026-11-25/1", "failed")
    told = trouble(cast.teacher)
    assert told is not None
    assert "may not be read or written" in told.text


@pytest.mark.django_db
def test_a_good_backup_in_a_folder_that_cannot_be_listed_is_good(
    cast: Cast, evidence: Path, quick: list[Path], monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    readable = Path.iterdir

    def refused(path: Path) -> Iterator[Path]:
        if path == settings.BACKUP_FOLDER:
            raise PermissionError(errno.EACCES, "Permission denied")
        return readable(path)

    monkeypatch.setattr(Path, "iterdir", refused)
    assert run_daily() is not None
    assert [outcome for _, outcome in outcomes()] == ["begun", "done"]
    assert run_daily() is None


@pytest.mark.django_db
def test_a_backup_that_was_stopped_is_called_off_and_made_as_soon_as_somebody_asks(
    cast: Cast, evidence: Path, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(target: Path, *, why: str) -> Made:
        raise SystemExit(143)

    def whole(target: Path, *, why: str) -> Made:
        return Made(target, 4, 1, 1, 0, ())

    monkeypatch.setattr(daily, "make_backup", stopped)
    with pytest.raises(SystemExit):
        run_daily()
    assert outcomes() == [("2026-11-25/1", "begun"), ("2026-11-25/1", "off")]
    assert "stopped" in BackupRun.objects.get(outcome="off").words
    assert trouble(cast.teacher) is None  # a server is ended now and then
    monkeypatch.setattr(daily, "make_backup", whole)
    assert run_daily() is not None
    assert outcomes()[-1] == ("2026-11-25/2", "done")


@pytest.mark.django_db
def test_called_off_for_days_the_backup_is_told_as_too_old(
    cast: Cast, evidence: Path, clock: Any
) -> None:
    for kind, days in (("done", 3), ("off", 1), ("off", 0)):
        at = NIGHT - dt.timedelta(days=days)
        BackupRun.objects.create(kind="daily", outcome=kind, at=at)
    told = trouble(cast.teacher)
    assert told is not None
    assert told.title == "The newest backup is too old"


@pytest.mark.django_db
def test_a_run_that_never_said_how_it_ended_is_taken_for_lost(
    cast: Cast, evidence: Path, quick: list[Path], clock: Any
) -> None:
    BackupRun.objects.create(kind="daily", outcome="begun", slot="2026-11-25/1")
    assert not is_due()
    assert trouble(cast.teacher) is None
    clock.shift(daily.SILENT)
    told = trouble(cast.teacher)
    assert told is not None
    assert told.title == "The last backup failed"
    assert "It began and never said how it ended." in told.text
    assert run_daily() is not None
    assert trouble(cast.teacher) is None
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


@pytest.mark.django_db
def test_with_nothing_due_the_command_says_nothing(
    cast: Cast, evidence: Path, quick: list[Path], caplog: pytest.LogCaptureFixture
) -> None:
    def said() -> str:
        out, err = StringIO(), StringIO()
        call_command("backup", "--daily", stdout=out, stderr=err)
        return out.getvalue() + err.getvalue()

    assert "Kept in" in said()
    caplog.clear()
    assert said() == ""
    assert not caplog.records
    assert len(quick) == 1


def test_a_database_that_does_not_answer_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def away() -> bool:
        raise OperationalError("connection refused")

    monkeypatch.setattr("studio.keeping.databases.holds_school", away)
    err = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("backup", "--daily", stderr=err)
    assert ended.value.code == 1
    assert err.getvalue().splitlines() == [
        "No backup was made. The database does not answer: connection refused."
    ]


def test_the_supervisor_asks_neither_database_nor_folder_whether_one_is_due(
    monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    """Either may hang; tests that did not ask for the database are refused it."""

    def hangs(path: Path) -> Iterator[Path]:
        raise AssertionError(path)

    monkeypatch.setattr(Path, "iterdir", hangs)
    child = todays_backup()
    assert child is not None
    assert list(child.command)[-2:] == ["backup", "--daily"]
    settings.BACKUP_DAILY = False
    assert todays_backup() is None


SAYS_HOW_NICE = """
import os
import django
django.setup()
from django.core.management import call_command
from studio.management.commands import backup
backup.run_daily = lambda: print("daily", os.nice(0))
backup.Command._check = lambda *_: print("by hand", os.nice(0))
call_command("backup", "a.zip", "--check")
call_command("backup", "--daily")
"""


@pytest.mark.skipif(not hasattr(os, "nice"), reason="Windows has no niceness.")
def test_the_daily_backup_steps_back_for_pages_and_one_by_hand_does_not(tmp_path: Path) -> None:
    own = os.nice(0)
    place = {"BENCHLEDGER_VAR": str(tmp_path / "var"), "BENCHLEDGER_PREPARE": "0"}
    said = said_by(SAYS_HOW_NICE, environment={**place, "BENCHLEDGER_NICE": str(own + 3)})
    assert said.split("\n")[:2] == [f"by hand {own}", f"daily {min(own + 3, 19)}"]


WAITS_FOR_ANOTHER = """
import subprocess, sys
from pathlib import Path
import django
django.setup()
from studio.management.commands.backup import _stopped_gently
told = Path(sys.argv[1])
with _stopped_gently():
    try:
        subprocess.run(
            [sys.executable, "-c", "import sys, time; open(sys.argv[1], 'w'); time.sleep(600)",
             str(told / "begun")],
            stdin=subprocess.DEVNULL,
        )
    finally:
        (told / "cleaned").touch()
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no signal that ends a wait.")
@pytest.mark.parametrize("how", ["lifeline", "signal", "both"])
def test_a_backup_ends_gently_when_its_server_ends_or_is_gone(tmp_path: Path, how: str) -> None:
    """Also while it waits for another program, as for pg_dump."""
    place = {"BENCHLEDGER_VAR": str(tmp_path / "var"), "BENCHLEDGER_PREPARE": "0"}
    with subprocess.Popen(
        [sys.executable, "-c", WAITS_FOR_ANOTHER, str(tmp_path)],
        cwd=ROOT,
        env={**os.environ, **place, lifeline.MARK: "1"},
        stdin=subprocess.PIPE,
    ) as backup:
        try:
            wait_for(lambda: (tmp_path / "begun").exists() or backup.poll() is not None)
            assert backup.poll() is None
            assert backup.stdin is not None
            if how != "signal":
                backup.stdin.close()
            if how != "lifeline":
                backup.terminate()
            assert backup.wait(timeout=240) == 143
        finally:
            backup.kill()
    assert (tmp_path / "cleaned").exists()


TOLD_AGAIN_LATE = """
import os, signal, time
import django
django.setup()
from studio.management.commands.backup import _stopped_gently
try:
    with _stopped_gently():
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(600)
finally:
    os.kill(os.getpid(), signal.SIGTERM)
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no signal that ends a wait.")
def test_a_server_that_says_it_again_when_all_is_cleaned_up_changes_nothing(tmp_path: Path) -> None:
    place = {"BENCHLEDGER_VAR": str(tmp_path / "var"), "BENCHLEDGER_PREPARE": "0"}
    ended = subprocess.run(
        [sys.executable, "-c", TOLD_AGAIN_LATE],
        cwd=ROOT,
        env={**os.environ, **place},
        check=False,
        timeout=240,
    )
    assert ended.returncode == 143


@pytest.mark.django_db
def test_the_days_that_are_kept_are_the_schools(
    cast: Cast, evidence: Path, quick: list[Path], clock: Any, settings: Any
) -> None:
    """Evening and next afternoon in Halifax are one day in UTC."""
    settings.BACKUP_FOLDER.mkdir()
    evening = dt.datetime(2026, 11, 24, 0, 30, tzinfo=dt.UTC)
    kept = [name_for("daily", at) for at in (evening, evening + 19 * HOUR)]
    for name in kept:
        (settings.BACKUP_FOLDER / name).write_bytes(b"kept")
    assert run_daily() is not None
    assert set(kept) <= {path.name for path in settings.BACKUP_FOLDER.iterdir()}


def test_seven_days_and_four_weeks_are_kept(tmp_path: Path) -> None:
    kept: list[str] = []
    day = dt.datetime(2026, 9, 1, 4, tzinfo=dt.UTC)
    for number in range(100):
        now = day + dt.timedelta(days=number)
        kept = [*kept, name_for("daily", now)]
        gone = to_let_go(kept, now, days=7, weeks=4, zone=dt.UTC)
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
    assert to_let_go(others, now, days=0, weeks=0, zone=dt.UTC) == []


def test_the_newest_is_kept_however_old_it_is() -> None:
    now = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
    old = [name_for("daily", now - dt.timedelta(days=days)) for days in (400, 300)]
    assert to_let_go(old, now, days=7, weeks=4, zone=dt.UTC) == [old[0]]


def test_backups_before_upgrades_go_after_the_weeks_and_beyond_three() -> None:
    now = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
    made = [name_for("before-upgrade", now - dt.timedelta(days=days)) for days in (60, 9, 8, 7, 6)]
    assert to_let_go(made, now, days=7, weeks=4, zone=dt.UTC) == made[:2]


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
