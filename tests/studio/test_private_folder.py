"""The data folder is its owner's alone: new ones, those of an earlier version, and each start."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from studio.config import private_folder

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows keeps access lists instead.")


@pytest.fixture(autouse=True)
def usual_umask() -> Iterator[None]:
    """Outside the app a user's files may be read by everybody."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.lstat().st_mode)


def open_to_others(folder: Path) -> list[str]:
    paths = [folder, *folder.rglob("*")]
    return [str(one) for one in paths if not one.is_symlink() and mode(one) & 0o077]


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """A folder as an earlier version left it."""
    folder = tmp_path / "var"
    (folder / "evidence" / "patterns").mkdir(parents=True)
    (folder / "backups").mkdir()
    for name in ("secret_key", "benchledger.sqlite3", "evidence/patterns/a.svg", "backups/b.zip"):
        (folder / name).write_text("x")
    assert open_to_others(folder)
    return folder


def run(var: Path, *words: str, **more: str) -> str:
    environment = os.environ | {"BENCHLEDGER_VAR": str(var), "BENCHLEDGER_PREPARE": "0"} | more
    for name in ("DJANGO_SETTINGS_MODULE", "DATABASE_URL"):
        environment.pop(name, None)
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stderr


def test_any_command_closes_an_installation_of_an_earlier_version(earlier: Path) -> None:
    (earlier / "benchledger.sqlite3").unlink()
    (earlier / "secret_key").write_text("k" * 64)
    made = sqlite3.connect(earlier / "benchledger.sqlite3")
    made.execute("PRAGMA journal_mode=WAL")
    made.execute("CREATE TABLE t (a)")
    made.commit()
    assert (earlier / "benchledger.sqlite3-wal").exists()
    run(earlier, "check")
    assert open_to_others(earlier) == []
    made.close()


@pytest.mark.slow
def test_a_new_installation_is_closed_whatever_it_makes(tmp_path: Path) -> None:
    run(tmp_path / "new" / "var", "migrate", "--verbosity", "0")
    run(tmp_path / "new" / "var", "collectstatic", "--no-input", "--verbosity", "0")
    assert open_to_others(tmp_path / "new" / "var") == []


@pytest.mark.slow
def test_static_files_elsewhere_may_be_read_by_a_web_server(tmp_path: Path) -> None:
    static = tmp_path / "static"
    words = ("collectstatic", "--no-input", "--verbosity", "0")
    run(tmp_path / "var", *words, BENCHLEDGER_STATIC=str(static))
    packed = list(static.rglob("*.gz"))
    assert packed
    assert {mode(one) & 0o044 for one in static.rglob("*") if one.is_file()} == {0o044}
    assert {mode(one) & 0o055 for one in [static, *static.rglob("*")] if one.is_dir()} == {0o055}


def test_evidence_elsewhere_is_closed_too(tmp_path: Path, earlier: Path) -> None:
    evidence = (earlier / "evidence").rename(tmp_path / "elsewhere")
    run(earlier, "check", BENCHLEDGER_EVIDENCE=str(evidence))
    assert open_to_others(evidence) == []


def test_a_database_elsewhere_is_closed_too(tmp_path: Path) -> None:
    for name in ("db.sqlite3", "db.sqlite3-wal"):
        (tmp_path / name).write_text("")
    private_folder.close_database(tmp_path / "db.sqlite3")
    assert mode(tmp_path / "db.sqlite3") == mode(tmp_path / "db.sqlite3-wal") == 0o600


def test_a_folder_that_was_mended_is_not_walked_again(
    earlier: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    private_folder.mend(earlier)

    def refuse(*args: object) -> None:
        raise AssertionError("walked")

    monkeypatch.setattr(os, "walk", refuse)
    private_folder.mend(earlier)


@pytest.mark.parametrize("how", ["open folder", "open mark", "linked mark", "second name"])
def test_a_mark_that_somebody_else_may_have_made_is_not_believed(earlier: Path, how: str) -> None:
    private_folder.mend(earlier)
    mark, late = earlier / private_folder.MARKER, earlier / "evidence" / "late.svg"
    late.write_text("x")
    if how == "open folder":
        earlier.chmod(0o755)
    elif how == "open mark":
        mark.chmod(0o644)
    elif how == "linked mark":
        mark.rename(earlier / "other")
        mark.symlink_to(earlier / "other")
    else:
        os.link(mark, earlier / "other")
    private_folder.mend(earlier)
    assert open_to_others(earlier) == []


def test_a_link_out_of_the_folder_is_not_followed(earlier: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "theirs").write_text("x")
    (earlier / "evidence" / "out").symlink_to(outside)
    (earlier / "evidence" / "one").symlink_to(outside / "theirs")
    before = mode(outside), mode(outside / "theirs")
    private_folder.mend(earlier)
    assert (mode(outside), mode(outside / "theirs")) == before


def test_a_folder_that_all_users_share_is_left_alone_and_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tmp_path.chmod(0o1777)
    private_folder.mend(tmp_path)
    assert mode(tmp_path) == 0o1777
    assert "Choose a folder of your own" in capsys.readouterr().err


def test_what_cannot_be_closed_is_named_and_stops_nothing(
    earlier: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    chmod = Path.chmod

    def refuse(path: Path, mode: int) -> None:
        if path.name == "a.svg":
            raise PermissionError("not yours")
        chmod(path, mode)

    monkeypatch.setattr(Path, "chmod", refuse)
    private_folder.mend(earlier)
    assert "a.svg" in capsys.readouterr().err
    assert not (earlier / private_folder.MARKER).exists()
    assert mode(earlier / "secret_key") == 0o600
