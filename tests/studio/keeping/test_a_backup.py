"""A backup holds everything, and is there whole or not at all."""

from __future__ import annotations

import errno
import json
import stat
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from classroom.models import User, record
from studio.keeping import writing
from studio.keeping.container import Writer
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept, Unusable
from studio.keeping.writing import make_backup
from tests.studio.bench.making import World

from .filling import FILES, SHEET


def test_a_backup_holds_database_files_and_key(
    world: World, evidence: Path, tmp_path: Path, settings: Any
) -> None:
    settings.SECRET_KEY = "a key that only the environment knows"
    made = make_backup(tmp_path / "school.zip")
    manifest = prove(made.file)
    assert manifest.tables["classroom_user"] == User.objects.count() == 6
    assert manifest.kind == connection.vendor
    assert made.files == len(manifest.evidence) == FILES
    assert made.missing == manifest.missing == ()
    with zipfile.ZipFile(made.file) as archive:
        assert archive.read("secret_key").decode() == settings.SECRET_KEY
        kept = {path: archive.read(one.name) for path, one in manifest.evidence.items()}
        assert "manage.py restore" in archive.read("benchledger-backup.txt").decode()
    there = {
        path.relative_to(evidence).as_posix(): path.read_bytes()
        for path in evidence.rglob("*")
        if path.is_file()
    }
    assert kept == there
    assert SHEET in kept.values()


def test_only_its_owner_may_read_a_backup(backup: Path) -> None:
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600


def test_nothing_unfinished_stays_beside_a_backup(backup: Path) -> None:
    assert {path.name for path in backup.parent.iterdir()} == {"evidence", "school.zip", "var"}


def test_what_is_in_a_backup_can_be_seen_without_the_app(backup: Path) -> None:
    with zipfile.ZipFile(backup) as archive:
        assert archive.testzip() is None
        manifest = json.loads(archive.read("manifest.json"))
    assert manifest["format"] == "benchledger-backup"
    assert manifest["version"] == 1


@pytest.mark.parametrize("full_at", ["add", "seal"])
def test_a_full_disk_leaves_the_old_backup_and_says_so(
    backup: Path, monkeypatch: pytest.MonkeyPatch, full_at: str
) -> None:
    before = backup.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Writer, full_at, full)
    with pytest.raises(NotKept, match=r"disk of .* is full.*BENCHLEDGER_BACKUP_FOLDER"):
        make_backup(backup)
    assert backup.read_bytes() == before
    assert {path.name for path in backup.parent.iterdir()} == {"evidence", "school.zip", "var"}


def test_a_backup_that_would_fill_the_disk_is_not_begun(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "SPARE_BYTES", 2**60)
    with pytest.raises(NotKept, match="too full"):
        make_backup(tmp_path / "school.zip")
    assert not (tmp_path / "school.zip").exists()


def test_a_new_backup_takes_the_place_of_an_old_one(backup: Path, world: World) -> None:
    before = prove(backup).tables["classroom_history"]
    record(world.cast.teacher, "looked", world.brief, "looked once more")
    make_backup(backup)
    assert prove(backup).tables["classroom_history"] == before + 1


def test_a_file_that_is_no_backup_is_never_written_over(world: World, tmp_path: Path) -> None:
    essay = tmp_path / "essay.odt"
    essay.write_bytes(b"three weeks of work")
    with pytest.raises(Unusable, match="choose another name"):
        make_backup(essay)
    assert essay.read_bytes() == b"three weeks of work"


def test_a_target_that_cannot_be_is_named(world: World, evidence: Path, tmp_path: Path) -> None:
    for target, words in (
        (tmp_path / "no" / "such" / "one.zip", "There is no folder"),
        (tmp_path, "is a folder"),
        (evidence / "one.zip", "among the uploaded files"),
    ):
        with pytest.raises(Unusable, match=words):
            make_backup(target)


@pytest.mark.django_db(transaction=True)
def test_an_installation_without_a_school_has_nothing_to_keep(
    evidence: Path, tmp_path: Path
) -> None:
    with pytest.raises(Unusable, match="nothing to keep"):
        make_backup(tmp_path / "school.zip")


def test_a_missing_client_program_is_named_with_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.keeping import postgresql

    monkeypatch.setattr(postgresql.shutil, "which", lambda _: None)
    with pytest.raises(NotKept, match=r"pg_dump is not found.*postgresql-client"):
        postgresql.snapshot(tmp_path / "dump")
    with pytest.raises(Unusable, match=r"pg_restore.*postgresql-client"):
        postgresql.faults(tmp_path / "dump", {})
    with pytest.raises(Unusable, match=r"pg_restore.*postgresql-client"):
        postgresql.bring_back(tmp_path / "dump")


def test_a_damaged_database_is_not_kept_as_if_it_were_whole(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.keeping import databases

    taken: Any = databases.snapshot

    def damaged(to: Path) -> Any:
        snapshot = taken(to)
        data = bytearray(to.read_bytes())
        middle = len(data) // 2
        data[middle : middle + 4096] = b"\xff" * 4096
        to.write_bytes(data)
        return snapshot

    monkeypatch.setattr(databases, "snapshot", damaged)
    with pytest.raises(NotKept, match="damaged"):
        make_backup(tmp_path / "school.zip")
    assert not (tmp_path / "school.zip").exists()
