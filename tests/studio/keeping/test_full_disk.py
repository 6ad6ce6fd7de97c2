"""A full disk refuses in words and loses nothing."""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import OperationalError, connection
from django.test import Client, RequestFactory
from django.utils import translation

from classroom.files.full_disk import is_full
from classroom.files.private_store import PART, PrivateFiles, clear_parts
from classroom.files.waiting_files import set_aside
from classroom.models import WaitingFile
from studio.keeping import evidence as kept_files
from studio.keeping import writing
from studio.keeping.refusals import NotKept
from studio.keeping.writing import make_backup
from studio.models import Errand
from studio.running.errands.starting import NewErrand, start
from studio.views.house.troubles import page_not_made
from tests.people import Cast
from tests.small_disk import small_disk_in
from tests.studio.bench.making import World

FULL = OSError(errno.ENOSPC, "No space left on device")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    with small_disk_in(tmp_path, "1m") as folder:
        yield folder


def fill_up(folder: Path) -> Path:
    full = folder / "full"
    with contextlib.suppress(OSError), full.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(4096))
    return full


def caused(error: BaseException, cause: BaseException) -> BaseException:
    error.__cause__ = cause
    return error


def test_a_full_disk_is_known_by_its_errors() -> None:
    quota = OSError(errno.EDQUOT, "Disk quota exceeded")
    full = sqlite3.OperationalError("database or disk is full")
    for error in (FULL, quota, full, caused(OperationalError("x"), full)):
        assert is_full(error)
    locked = sqlite3.OperationalError("database is locked")
    for other in (OSError(errno.EACCES, "no"), caused(OperationalError("x"), locked), None):
        assert not is_full(other)


def test_postgresqls_own_error_is_known() -> None:
    psycopg = pytest.importorskip("psycopg", reason="PostgreSQL's driver is not installed")
    assert is_full(caused(OperationalError("x"), psycopg.errors.DiskFull("no space")))


@pytest.mark.parametrize("error", [FULL, sqlite3.OperationalError("database or disk is full")])
def test_a_page_that_the_disk_refused_says_so_with_507(error: Exception) -> None:
    try:
        raise error
    except Exception:
        answer = page_not_made(RequestFactory().post("/"))
    assert answer.status_code == 507
    page = answer.content.decode()
    assert "The school's disk is full" in page.replace("&#x27;", "'")
    assert "Tell whoever looks after the server" in page


def test_the_page_speaks_spanish() -> None:
    with translation.override("es"):
        try:
            raise FULL
        except OSError:
            answer = page_not_made(RequestFactory().post("/"))
    assert "El disco de la escuela está lleno" in answer.content.decode()


def test_a_request_through_the_whole_house_ends_in_that_page(
    cast: Cast, evidence: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.views.today import first_page

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(first_page, "teachers_day", full)
    client = Client(raise_request_exception=False)
    client.force_login(cast.teacher, backend="classroom.signin.PassphraseBackend")
    assert client.get("/").status_code == 507


def test_a_file_that_the_disk_has_no_room_for_leaves_nothing_behind(
    small_disk: Path, settings: Any
) -> None:
    settings.EVIDENCE_DIR = small_disk
    store = PrivateFiles()
    kept = store.save("patterns/1/small.svg", ContentFile(b"x" * 100))
    with pytest.raises(OSError, match="No space left"):
        store.save("patterns/1/large.png", ContentFile(b"x" * 2_000_000))
    assert [path.name for path in small_disk.rglob("*") if path.is_file()] == ["small.svg"]
    assert Path(store.path(kept)).read_bytes() == b"x" * 100


def test_two_files_of_one_name_are_both_kept(tmp_path: Path, settings: Any) -> None:
    settings.EVIDENCE_DIR = tmp_path
    store = PrivateFiles()
    names = [store.save("a/one.svg", ContentFile(data)) for data in (b"first", b"second")]
    assert [Path(store.path(name)).read_bytes() for name in names] == [b"first", b"second"]
    assert not [path for path in tmp_path.rglob("*") if PART in path.name]


def test_without_links_a_file_is_kept_as_well(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(os, "link", no_links)
    test_two_files_of_one_name_are_both_kept(tmp_path, settings)


def test_what_a_killed_process_left_half_written_goes_and_is_never_kept(
    evidence: Path,
) -> None:
    (evidence / "patterns").mkdir()
    old, young = (evidence / "patterns" / f"{name}.svg{PART}1" for name in ("old", "young"))
    for part in (old, young):
        part.write_bytes(b"half")
    os.utime(old, (0, 0))
    assert list(kept_files.files()) == []
    assert clear_parts(evidence) == 1
    assert young.exists()


def test_the_houses_store_of_uploads_is_that_store() -> None:
    assert isinstance(storages["evidence"], PrivateFiles)


def test_an_upload_to_a_full_disk_is_refused_whole(
    world: World, evidence: Path, small_disk: Path, settings: Any
) -> None:
    before = WaitingFile.objects.count()
    settings.EVIDENCE_DIR = small_disk
    fill_up(small_disk)
    with pytest.raises(OSError, match="No space left"):
        set_aside(world.cast.owner, world.brief, b"x" * 9000, file_name="a.png", shown=b"s")
    assert WaitingFile.objects.count() == before
    assert [path.name for path in small_disk.rglob("*") if path.is_file()] == ["full"]


def test_an_errand_that_the_disk_stopped_ends_in_those_words(
    world: World, evidence: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.running.errands import doing

    def full(_: Errand) -> Any:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setitem(doing.DOERS, Errand.Kind.PATTERN, full)
    wanted = NewErrand(Errand.Kind.PATTERN, "tag.svg", "/", data=b"<svg/>")
    errand = start(world.cast.owner, wanted)
    assert errand.state == "failed"
    assert "disk is full" in errand.outcome["refused"]


def test_a_backup_onto_a_full_disk_fails_in_words_and_leaves_the_old_ones(
    world: World, small_disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "_require_room", lambda _: None)
    old = small_disk / "old.zip"
    old.write_bytes(b"the backup of yesterday")
    fill_up(small_disk)
    with pytest.raises(NotKept, match=r"disk.*full|space"):
        make_backup(small_disk / "new.zip")
    assert not (small_disk / "new.zip").exists()
    assert old.read_bytes() == b"the backup of yesterday"
    assert not [path for path in small_disk.iterdir() if path.name.startswith(".")]


def test_a_database_on_a_full_disk_loses_nothing_and_goes_on_when_there_is_room(
    small_disk: Path,
) -> None:
    """SQLite as the settings open it."""
    if connection.vendor != "sqlite":
        return  # PostgreSQL's own disk is not ours to fill; its error is known, see above
    file = small_disk / "school.sqlite3"
    database = sqlite3.connect(file, isolation_level=None)
    database.executescript("PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;")
    database.execute("CREATE TABLE t (x)")
    database.execute("INSERT INTO t VALUES ('saved before')")
    full = fill_up(small_disk)
    with pytest.raises(sqlite3.OperationalError) as refused:
        database.executemany("INSERT INTO t VALUES (?)", [("y" * 4000,)] * 200)
    assert is_full(refused.value)
    full.unlink()
    database.execute("INSERT INTO t VALUES ('saved after')")
    rows = [x for (x,) in database.execute("SELECT x FROM t") if x.startswith("saved")]
    assert rows == ["saved before", "saved after"]
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    database.close()
