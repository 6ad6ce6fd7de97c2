"""Bringing a backup into an empty installation: laid down aside, proved, brought up to date,
and only then moved in.

The database comes last. Until it is in, the installation is as empty as before; a run that was
killed between the files and the database leaves a note by which the next one clears the files
away. SQLite's file is replaced while this process alone has the old one.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from django.conf import settings
from django.core.management import call_command
from django.db import Error

from classroom.models import BackupRun

from . import evidence
from .container import Backup, opened
from .daily import write_down
from .fitting import require_fitting, require_no_files, require_no_rows
from .manifest import Manifest
from .moving_in import MOVED, clear_what_a_killed_run_left, files_moved_in, move_database_in
from .proving import prove, unpack_database
from .refusals import NotKept, disk_words, one_line


class NotBroughtUp(Exception):
    """The school is back, with a database of its earlier version."""


def restore(file: Path) -> Manifest:
    """Bring the backup in. Raises Unusable, NotWhole or NotKept; then nothing has changed.

    Raises NotBroughtUp when it is in and only the update after it failed.
    """
    manifest = prove(file)
    require_fitting(file, manifest)
    try:
        require_no_rows()
    except Error as error:
        raise NotKept(_no_answer(error)) from error
    clear_what_a_killed_run_left()
    require_no_files()
    with opened(file) as backup:
        root = evidence.folder()
        root.mkdir(mode=0o700, parents=True, exist_ok=True)
        _require_room(backup, root)
        with _aside(root) as files, _aside(Path(settings.VAR_DIR)) as place:
            try:
                _lay_down(backup, files)
                unpack_database(backup, place / "database")
                key = backup.content(manifest.key)
                if manifest.kind == "sqlite":
                    _bring_up_to_date(place / "database")
                with files_moved_in(files, root):
                    _keep_key(key)
                    move_database_in(place / "database")
                (root / MOVED).unlink(missing_ok=True)
            except (OSError, sqlite3.Error) as error:
                raise NotKept(disk_words(error, root)) from error
            except Error as error:
                raise NotKept(_no_answer(error)) from error
    if manifest.kind == "postgresql":
        try:
            call_command("migrate", interactive=False, verbosity=0)
        except Exception as error:
            raise NotBroughtUp(
                "Everything was brought in, but the database could not be brought up to this "
                f"version: {one_line(str(error))}. Mend that and run: manage.py migrate"
            ) from error
    write_down(
        BackupRun.Kind.RESTORE,
        BackupRun.Outcome.DONE,
        file=file,
        size_bytes=file.stat().st_size,
        at=dt.datetime.fromisoformat(manifest.made_at),
    )
    return manifest


def _no_answer(error: Error) -> str:
    return f"The database does not answer: {one_line(str(error))}."


def _require_room(backup: Backup, root: Path) -> None:
    manifest = backup.manifest
    files = sum(member.size for member in manifest.evidence.values())
    database = 2 * manifest.database.size
    shared = root.stat().st_dev == Path(settings.VAR_DIR).stat().st_dev
    for folder, wanted in ((root, files + database * shared), (Path(settings.VAR_DIR), database)):
        if shutil.disk_usage(folder).free < wanted:
            raise NotKept(f"The disk of {folder} has no room for it: {wanted} bytes are wanted.")


@contextmanager
def _aside(folder: Path) -> Iterator[Path]:
    place = Path(tempfile.mkdtemp(prefix=evidence.RESTORING + "-", dir=folder))
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _lay_down(backup: Backup, place: Path) -> None:
    for path, member in backup.manifest.evidence.items():
        to = place / path
        for folder in reversed(Path(path).parents):
            (place / folder).mkdir(mode=0o700, exist_ok=True)
        handle = os.open(
            to, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0), 0o600
        )
        with os.fdopen(handle, "wb") as kept:
            backup.copy(member, kept)


def _bring_up_to_date(database: Path) -> None:
    """Migrate the copy that lies aside, in a process that knows no other database."""
    database.chmod(0o600)
    address = quote(str(database), safe="/:\\")
    done = subprocess.run(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "migrate", "--no-input", "-v", "0"],
        cwd=settings.BASE_DIR,
        env={
            **os.environ,
            "BENCHLEDGER_PREPARE": "0",
            "DATABASE_URL": f"sqlite:///{address}",
        },
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last = done.stderr.strip().splitlines()[-1:] or ["it said nothing"]
        raise NotKept(f"Its database could not be brought up to this version: {one_line(last[0])}.")
    with closing(sqlite3.connect(database, isolation_level=None)) as copy:
        copy.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        copy.execute("PRAGMA journal_mode=DELETE")
    with database.open("rb") as copied:
        os.fsync(copied.fileno())


def _keep_key(key: bytes) -> None:
    """The school's key beside its data; one from the environment goes before it."""
    kept = Path(settings.VAR_DIR) / "secret_key"
    fresh = kept.with_name(".secret_key.restored")
    fresh.unlink(missing_ok=True)
    handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(key)
        os.fsync(file.fileno())
    fresh.replace(kept)


def key_differs(file: Path) -> bool:
    """Whether this installation is told by its environment to use another key."""
    told = os.environ.get("BENCHLEDGER_SECRET_KEY")
    if not told:
        return False
    with opened(file) as backup:
        return backup.content(backup.manifest.key) != told.encode()
