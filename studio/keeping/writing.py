"""Making a backup while the school goes on working.

The order: files, database, files again. A file is written before its row commits and removed
only after the row that let it go has committed. So every file that a row of the database's
moment names was there at that moment. Most were there at the first pass already and are copied
then, however long that takes; what came later is copied right after the moment. One that came
after the first pass and went again before the second is not found: then the moment is taken once
more, and the same file cannot be missing again for this reason. A file that two moments name and
the store does not have was lost at home; the table of contents says so.
"""

from __future__ import annotations

import datetime as dt
import logging
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import DatabaseError

from classroom.files.full_disk import is_full
from studio.keeping import snapshots

from . import databases, evidence, proving
from .container import Writer, opened
from .evidence import Stamp
from .manifest import DATABASE, EVIDENCE, KEY, Manifest, is_safe
from .refusals import NotKept, NotWhole, Unusable, disk_words, one_line

logger = logging.getLogger(__name__)

MOST_MOMENTS: Final = 5
SPARE_BYTES: Final = 32 * 1024 * 1024
"""Left free beside a backup, so that it does not stop the school that it is made for."""
UNFINISHED: Final = ".unfinished-backup-"
_PACKED_ALREADY: Final = {".png", ".jpg", ".jpeg", ".webp", ".heic", ".zip", ".pdf"}


@dataclass(frozen=True, slots=True)
class Made:
    file: Path
    size_bytes: int
    tables: int
    rows: int
    files: int
    missing: tuple[str, ...]


@dataclass(slots=True)
class _Copied:
    """What has been copied so far, and how each file looked then."""

    stamps: dict[str, Stamp] = field(default_factory=dict)
    times: dict[str, int] = field(default_factory=dict)


def make_backup(target: Path, *, why: str = "by_hand") -> Made:
    """Write the backup `target`: it is there whole and proved, or not at all.

    A backup that stood there before is replaced only then; any other file is left alone. Raises
    Unusable (this target cannot be) or NotKept (no backup could be made), in words.
    """
    target = target.absolute()
    _require_target(target)
    try:
        if not databases.holds_school():
            raise Unusable("There is nothing to keep: no school has been set up here yet.")
        _require_room(target.parent)
        with _aside(target.parent) as place:
            made = _write(place, target, why)
            (place / "backup").replace(target)
        _settle(target.parent)
    except (OSError, sqlite3.Error) as error:
        raise NotKept(disk_words(error, target.parent)) from error
    except DatabaseError as error:
        if is_full(error):
            raise NotKept(disk_words(error, target.parent)) from error
        raise NotKept(f"The database does not answer: {one_line(str(error))}.") from error
    except NotWhole as error:
        raise NotKept(f"What was to be kept is damaged: {' '.join(error.faults[:3])}") from error
    return made


def _require_target(target: Path) -> None:
    folder = target.parent
    if target.is_dir():
        raise Unusable(f"{target} is a folder; name a file in it.")
    if not folder.is_dir():
        raise Unusable(f"There is no folder {folder}.")
    if target.resolve().is_relative_to(evidence.folder().resolve()):
        raise Unusable(f"{target} lies among the uploaded files; keep backups elsewhere.")
    if target.exists() and target.stat().st_size:
        try:
            with opened(target):
                pass
        except NotWhole:
            pass  # a damaged backup may go
        except Unusable as error:
            raise Unusable(f"{target} is there and is no backup; choose another name.") from error


def _require_room(folder: Path) -> None:
    wanted = evidence.bytes_in_all() + 2 * databases.bytes_in_all() + SPARE_BYTES
    free = shutil.disk_usage(folder).free
    if free < wanted:
        raise NotKept(
            f"The disk of {folder} is too full: {_mb(free)} MB are free, a backup may need "
            f"{_mb(wanted)} MB. Make room there, or keep backups elsewhere "
            "(BENCHLEDGER_BACKUP_FOLDER)."
        )


def _mb(count: int) -> int:
    return -(-count // 1_000_000)


@contextmanager
def _aside(folder: Path) -> Iterator[Path]:
    """A private folder beside the target, which goes whatever happens."""
    place = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _write(place: Path, target: Path, why: str) -> Made:
    writer = Writer(place / "backup")
    try:
        copied = _Copied()
        _copy_files(writer, copied)
        taken, missing = _moment(place, writer, copied)
        with taken.file.open("rb") as content:
            writer.add(DATABASE[taken.kind], content, packed=taken.kind == "sqlite")
        taken.file.unlink()
        writer.add(KEY, BytesIO(settings.SECRET_KEY.encode()), packed=False)
        manifest = Manifest(
            made_at=dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
            why=why,
            kind=taken.kind,
            tables=taken.tables,
            migrations=taken.migrations,
            members=tuple(writer.members),
            missing=tuple(missing),
        )
        writer.seal(manifest)
    finally:
        writer.close()
    proving.prove(place / "backup", scratch=place)
    if missing:
        logger.warning("backup %s: rows name %s files that are lost", target, len(missing))
    return Made(
        file=target,
        size_bytes=(place / "backup").stat().st_size,
        tables=len(taken.tables),
        rows=sum(taken.tables.values()),
        files=len(copied.stamps),
        missing=tuple(missing),
    )


def _moment(place: Path, writer: Writer, copied: _Copied) -> tuple[snapshots.Snapshot, list[str]]:
    """The database as of a moment all of whose files are copied, and the files lost at home."""
    before: set[str] | None = None
    for number in range(MOST_MOMENTS):
        taken = databases.snapshot(place / f"database-{number}")
        _copy_files(writer, copied)
        missing = {path for path in taken.named if path not in copied.stamps}
        if not missing or (before is not None and missing <= before):
            return taken, sorted(path for path in missing if is_safe(path))
        taken.file.unlink()
        before = missing
    raise NotKept("Files came and went too quickly to be kept; the next try may do better.")


def _copy_files(writer: Writer, copied: _Copied) -> None:
    """Copy every file that is new, or has changed since it was copied."""
    for path, file, stamp in evidence.files():
        if copied.stamps.get(path) == stamp:
            continue
        times = copied.times.get(path, 0)
        name = f"{EVIDENCE}{path}" + (f"~{times}" if times else "")
        packed = file.suffix.lower() not in _PACKED_ALREADY
        try:
            with file.open("rb") as content:
                member = writer.add(name, content, packed=packed, path=path)
        except FileNotFoundError:
            continue  # cleared since the folder was read
        copied.times[path] = times + 1
        copied.stamps[path] = Stamp(member.size, stamp.changed_ns)


def _settle(folder: Path) -> None:
    """See the new name onto the disk, where the system has a way to ask for that."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return  # Windows opens no folder
    try:
        os.fsync(handle)
    except OSError as error:
        if is_full(error):
            raise
    finally:
        os.close(handle)
