"""A backup comes back whole into an empty installation, and into no other."""

from __future__ import annotations

import sqlite3
import stat
from contextlib import closing
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import Error, InterfaceError, OperationalError, connection

from studio.config.private_folder import MARKER
from studio.keeping import moving_in, restoring
from studio.keeping.container import opened
from studio.keeping.fitting import require_fitting
from studio.keeping.moving_in import clear_what_a_killed_run_left, files_moved_in
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept, NotWhole, Unusable
from studio.keeping.restoring import restore
from tests.studio.bench.making import World

from .installations import command, empty_database
from .tampering import Contents, tampered


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != MARKER
    }


def test_a_school_comes_back_with_its_rows_files_and_key_and_adds_up(
    backup: Path, evidence: Path, tmp_path: Path
) -> None:
    home = tmp_path / "new home"
    with empty_database() as url:
        done = command(home, "restore", backup, url=url)
        assert done.returncode == 0, done.stderr
        assert "All balances hold: 2 stock pieces, 1 budgets, 1 cut plans" in done.stdout
        assert files_in(home / "evidence") == files_in(evidence)
        assert (home / "secret_key").read_text() == settings.SECRET_KEY
        for path in (home / "evidence").rglob("*"):
            wanted = 0o700 if path.is_dir() else 0o600
            assert stat.S_IMODE(path.stat().st_mode) == wanted, path

        again = command(home, "backup", tmp_path / "again.zip", url=url)
        assert again.returncode == 0, again.stderr
        before, after = prove(backup), prove(tmp_path / "again.zip")
        more = {"classroom_backuprun": before.tables["classroom_backuprun"] + 1}
        assert after.tables == before.tables | more
        assert set(after.evidence) == set(before.evidence)

        twice = command(home, "restore", backup, url=url)
        assert twice.returncode == 2
        assert "holds data already" in twice.stderr
        assert twice.stderr.count("\n") == 1
        assert files_in(home / "evidence") == files_in(evidence)
        assert not [
            path.name for path in home.iterdir() if path.name.startswith((".rest", ".check"))
        ]


@pytest.mark.slow
def test_a_backup_of_an_earlier_version_comes_back_as_this_one(
    backup: Path, tmp_path: Path
) -> None:
    old, new = tmp_path / "old", tmp_path / "new"
    with empty_database() as one, empty_database() as other:
        assert command(old, "restore", backup, url=one).returncode == 0
        back = command(old, "migrate", "classroom", "0003", url=one)
        assert back.returncode == 0, back.stderr
        done = command(old, "backup", tmp_path / "old.zip", url=one)
        assert done.returncode == 0, done.stderr
        assert "classroom_backuprun" not in prove(tmp_path / "old.zip").tables
        done = command(new, "restore", tmp_path / "old.zip", url=other)
        assert done.returncode == 0, done.stderr
        done = command(new, "backup", tmp_path / "new.zip", url=other)
        assert done.returncode == 0, done.stderr
        assert "classroom_backuprun" in prove(tmp_path / "new.zip").tables


@pytest.mark.slow
def test_a_key_of_the_environment_is_named_where_it_is_another(
    backup: Path, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    with empty_database() as url:
        done = command(home, "restore", backup, url=url, BENCHLEDGER_SECRET_KEY="another" * 9)
    assert done.returncode == 0, done.stderr
    assert "everybody signs in anew" in done.stdout
    assert (home / "secret_key").read_text() == settings.SECRET_KEY


@pytest.mark.slow
def test_a_damaged_backup_brings_nothing_in(any_backup: Path, tmp_path: Path) -> None:
    torn = tmp_path / "torn.zip"
    torn.write_bytes(any_backup.read_bytes()[:-300])
    home = tmp_path / "home"
    with empty_database() as url:
        done = command(home, "restore", torn, url=url)
    assert done.returncode == 1
    assert "damaged" in done.stderr
    assert "Nothing was brought in" in done.stderr
    assert "Traceback" not in done.stderr
    assert {path.name for path in home.iterdir()} <= {"secret_key", MARKER}


def test_a_school_is_never_written_over(backup: Path, world: World, evidence: Path) -> None:
    before = files_in(evidence)
    with pytest.raises(Unusable, match="holds data already"):
        restore(backup)
    assert files_in(evidence) == before
    world.brief.refresh_from_db()


@pytest.mark.django_db(transaction=True)
def test_uploaded_files_without_a_database_are_never_written_over(
    any_backup: Path, evidence: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The backup may have been made in this very test: its rows are as good as gone.
    monkeypatch.setattr(restoring, "require_no_rows", lambda: None)
    for path in evidence.rglob("*.*"):
        path.unlink()
    (evidence / "patterns" / "9").mkdir(parents=True, exist_ok=True)
    (evidence / "patterns" / "9" / "lost.svg").write_bytes(b"<svg/>")
    with pytest.raises(Unusable, match="BENCHLEDGER_EVIDENCE"):
        restore(any_backup)
    assert files_in(evidence) == {"patterns/9/lost.svg": b"<svg/>"}


def test_a_backup_of_a_newer_version_is_refused_with_what_to_do(
    any_backup: Path, tmp_path: Path
) -> None:
    def change(manifest: dict[str, Any], contents: Contents) -> None:
        manifest["migrations"].append(["studio", "9999_a_later_one"])

    newer = tampered(any_backup, tmp_path / "newer.zip", change)
    with opened(newer) as one, pytest.raises(Unusable, match=r"newer.*9999_a_later_one"):
        require_fitting(newer, one.manifest)


def test_a_backup_of_an_app_that_is_gone_is_not_taken_for_newer(
    any_backup: Path, tmp_path: Path
) -> None:
    def change(manifest: dict[str, Any], contents: Contents) -> None:
        manifest["migrations"].append(["an_app_of_old", "0001_initial"])

    with opened(tampered(any_backup, tmp_path / "older.zip", change)) as one:
        require_fitting(any_backup, one.manifest)


def test_a_backup_of_the_other_kind_of_database_is_refused_in_words(
    any_backup: Path, tmp_path: Path
) -> None:
    other = "postgresql" if connection.vendor == "sqlite" else "sqlite"
    names = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}

    def change(manifest: dict[str, Any], contents: Contents) -> None:
        manifest["database"]["kind"] = other
        contents[names[other]] = contents.pop(names[connection.vendor])
        for member in manifest["members"]:
            if member["name"] == names[connection.vendor]:
                member["name"] = names[other]

    with (
        opened(tampered(any_backup, tmp_path / "other.zip", change)) as one,
        pytest.raises(Unusable, match=r"SQLite.*PostgreSQL|PostgreSQL.*SQLite"),
    ):
        require_fitting(any_backup, one.manifest)


def test_a_database_that_a_server_has_open_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(moving_in, "BUSY_SECONDS", 0.1)
    live = tmp_path / "live.sqlite3"
    with closing(sqlite3.connect(live)) as server:
        server.execute("PRAGMA journal_mode=WAL")
        server.execute("CREATE TABLE t (x)")
        server.commit()
        server.execute("SELECT * FROM t").fetchall()
        with pytest.raises(Unusable, match="Stop the server"):
            moving_in.alone_with(live).__enter__()


def test_files_go_out_again_when_the_database_does_not_go_in(tmp_path: Path) -> None:
    root, place = tmp_path / "root", tmp_path / "place"
    (root / "patterns" / "7").mkdir(parents=True)
    (place / "patterns" / "1").mkdir(parents=True)
    (place / "patterns" / "1" / "a.svg").write_bytes(b"a")

    def move_in() -> None:
        with files_moved_in(place, root):
            assert files_in(root)["patterns/1/a.svg"] == b"a"
            raise NotKept("the database did not go in")

    with pytest.raises(NotKept):
        move_in()
    assert files_in(root) == {}


def test_what_a_killed_restore_left_is_cleared_by_the_next(evidence: Path, tmp_path: Path) -> None:
    place = tmp_path / "place"
    (place / "patterns").mkdir(parents=True)
    (place / "patterns" / "a.svg").write_bytes(b"a")

    moved = files_moved_in(place, evidence)
    moved.__enter__()  # and never left: the process is gone
    (evidence / ".restoring-half").mkdir()
    assert "patterns/a.svg" in files_in(evidence)
    clear_what_a_killed_run_left()
    assert list(evidence.iterdir()) == []


def test_a_damaged_backup_is_told_before_anything_is_looked_at(
    any_backup: Path, tmp_path: Path
) -> None:
    data = bytearray(any_backup.read_bytes())
    data[len(data) // 2] ^= 1
    torn = tmp_path / "torn.zip"
    torn.write_bytes(data)
    with pytest.raises(NotWhole):
        restore(torn)


def ended_with(file: Path) -> tuple[object, str, str]:
    """Exit status and what was said, on both ways, of `restore`."""
    out, err = StringIO(), StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("restore", file, stdout=out, stderr=err)
    return ended.value.code, out.getvalue(), err.getvalue()


@pytest.mark.parametrize("error", [OperationalError, InterfaceError])
def test_a_database_that_does_not_answer_is_one_line_and_nothing_is_brought_in(
    any_backup: Path, evidence: Path, monkeypatch: pytest.MonkeyPatch, error: type[Error]
) -> None:
    def away(*_: object) -> None:
        raise error("connection refused\n\tby the server.")

    before = files_in(evidence)
    monkeypatch.setattr(connection, "cursor", away)
    said = ended_with(any_backup)
    monkeypatch.undo()
    assert said == (
        1,
        "",
        "Nothing was brought in. The database does not answer: connection refused by the server.\n",
    )
    assert files_in(evidence) == before


def test_a_database_that_goes_away_before_the_balances_are_proved_is_told_in_words(
    any_backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.management.commands import audit_stock, restore

    def away() -> None:
        raise OperationalError("connection refused")

    monkeypatch.setattr(restore, "restore", prove)  # as if brought in
    monkeypatch.setattr(audit_stock, "audit", away)
    status, out, err = ended_with(any_backup)
    assert (status, err) == (
        1,
        "The balances were not proved. The database does not answer: connection refused. "
        "When it does, run: manage.py audit_stock\n",
    )
    assert "Brought in" in out
