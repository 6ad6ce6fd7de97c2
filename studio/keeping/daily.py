"""One backup a day, by whichever machine is first, and the old ones let go.

Of several machines on one database one takes the day's slot: the row that says "begun" is unique
for it. A run that failed is tried again after an hour, one that never said how it ended after
`SILENT`, and one that was called off, as its server ended, whenever somebody asks next.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import logging
import platform
import shutil
import time
import zoneinfo
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from classroom.files.private_store import clear_parts
from classroom.models import BackupRun, School

from . import databases, evidence
from .refusals import NotKept, Unusable, disk_words, one_line
from .retention import DAILY, name_for, taken_at, to_let_go
from .writing import UNFINISHED, Made, make_backup

logger = logging.getLogger(__name__)

Kind, Outcome = BackupRun.Kind, BackupRun.Outcome
AGAIN_AFTER: Final = dt.timedelta(hours=1)
SILENT: Final = dt.timedelta(hours=3)
"""A backup that began so long ago and has not said how it ended is taken for lost."""


def is_due(now: dt.datetime | None = None) -> bool:
    """Whether `run_daily` has something to do; cheap, to be asked now and then."""
    return (
        settings.BACKUP_DAILY
        and databases.holds_school()
        and _next_slot(now or timezone.now(), _schools_zone()) is not None
    )


def run_daily(now: dt.datetime | None = None) -> Made | None:
    """Make today's backup if it is due and nobody else does. Raises NotKept, Unusable, OSError,
    DatabaseError."""
    moment = now or timezone.now()
    if not is_due(moment):
        return None
    zone = _schools_zone()
    slot = _next_slot(moment, zone)
    if slot is None or not _take(slot, moment):
        return None
    folder = Path(settings.BACKUP_FOLDER)
    made = recorded(Kind.DAILY, folder / name_for(DAILY, moment), slot=slot)
    let_old_ones_go(folder, moment, zone)
    clear_parts(evidence.folder())
    return made


def made_by_hand(target: Path) -> Made:
    return recorded(Kind.BY_HAND, target)


def recorded(kind: str, target: Path, *, slot: str = "") -> Made:
    """Make the backup and write down what became of it. Raises as `make_backup` does.

    With a `slot` the folder is made as well: where it cannot be, that is a failure like others.
    """
    try:
        if slot:
            backup_folder()
        made = make_backup(target, why=kind)
    except (NotKept, Unusable) as error:
        if slot or isinstance(error, NotKept):  # a mistyped file is no failure of the school's
            write_down(kind, Outcome.FAILED, slot=slot, file=target, words=str(error))
        raise
    except OSError as error:
        words = disk_words(error, target.parent)
        write_down(kind, Outcome.FAILED, slot=slot, file=target, words=words)
        raise
    except Exception as error:
        words = f"It broke off ({one_line(repr(error))})."
        write_down(kind, Outcome.FAILED, slot=slot, file=target, words=words)
        raise
    except BaseException:  # told to end, as every server is now and then: nothing failed
        words = "It was stopped before it was whole."
        write_down(kind, Outcome.OFF, slot=slot, file=target, words=words)
        raise
    write_down(kind, Outcome.DONE, slot=slot, file=made.file, size_bytes=made.size_bytes)
    return made


def write_down(
    kind: str,
    outcome: str,
    *,
    slot: str = "",
    file: Path | None = None,
    size_bytes: int | None = None,
    words: str = "",
    at: dt.datetime | None = None,
) -> None:
    """A row, and where none can be written (a full disk, tables of an older version) a line of
    the log: the age of the newest backup then tells the teacher."""
    if outcome == Outcome.FAILED:
        logger.error("backup failed: %s", words)
    try:
        BackupRun.objects.create(
            kind=kind,
            outcome=outcome,
            at=at or timezone.now(),
            slot=slot,
            machine=platform.node()[:120],
            file_name="" if file is None else str(file)[-300:],
            size_bytes=size_bytes,
            words=words[:300],
        )
    except DatabaseError as error:
        logger.warning(  # the sentence is enough
            "what became of a backup (%s) could not be written down: %s", outcome, error
        )


def backup_folder() -> Path:
    """Made where it is missing, readable by its owner alone. Raises NotKept."""
    folder = Path(settings.BACKUP_FOLDER)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise NotKept(f"The backup folder {folder} cannot be made: {error.strerror}.") from error
    return folder


def let_old_ones_go(folder: Path, now: dt.datetime, zone: dt.tzinfo) -> list[Path]:
    """Remove what retention lets go, and what broken runs left behind more than a day ago."""
    gone: list[Path] = []
    try:
        names = [entry.name for entry in folder.iterdir()]
    except OSError as error:
        logger.warning("old backups could not be looked for: %s", error)
        return gone
    days, weeks = settings.BACKUP_DAYS, settings.BACKUP_WEEKS
    for name in to_let_go(names, now, days=days, weeks=weeks, zone=zone):
        try:
            (folder / name).unlink(missing_ok=True)
        except OSError as error:
            logger.warning("an old backup could not be removed: %s", error)
        else:
            gone.append(folder / name)
    for name in names:
        left = folder / name
        if name.startswith(UNFINISHED) and _is_a_day_old(left):
            shutil.rmtree(left, ignore_errors=True)
    return gone


def _is_a_day_old(left: Path) -> bool:
    try:
        return time.time() - left.stat().st_mtime > 86_400
    except OSError:
        return False  # another machine has just taken it away


def _schools_zone() -> zoneinfo.ZoneInfo:
    return zoneinfo.ZoneInfo(School.objects.order_by("pk")[:1].get().time_zone)


def _next_slot(now: dt.datetime, zone: dt.tzinfo) -> str | None:
    """The slot of the run that is due now; None when there is nothing to do."""
    day = now.astimezone(zone).date()
    prefix = f"{day:%Y-%m-%d}/"
    runs = list(BackupRun.objects.filter(kind=Kind.DAILY, slot__startswith=prefix))
    if any(run.outcome == Outcome.DONE for run in runs) or _made_today(day, zone):
        return None
    ended = {run.slot: run for run in runs if run.outcome == Outcome.FAILED}
    called_off = {run.slot for run in runs if run.outcome == Outcome.OFF}
    begun = [run for run in runs if run.outcome == Outcome.BEGUN]
    for run in begun:
        if run.slot in called_off:
            continue
        failed = ended.get(run.slot)
        wait_from, wait = (failed.at, AGAIN_AFTER) if failed else (run.at, SILENT)
        # A clock that was put back must not keep anybody waiting for it to catch up.
        if abs(now - wait_from) < wait:
            return None
    return f"{prefix}{len(begun) + 1}"


def _made_today(day: dt.date, zone: dt.tzinfo) -> bool:
    """Also known from the folder: on a full disk no row may have been written.

    A folder that cannot be read knows of none: the run that follows then fails and is told.
    """
    folder = Path(settings.BACKUP_FOLDER)
    names: Iterable[str] = ()
    with contextlib.suppress(OSError):
        names = [entry.name for entry in folder.iterdir()]
    made = (taken_at(name, DAILY) for name in names)
    return any(at is not None and at.astimezone(zone).date() == day for at in made)


def _take(slot: str, now: dt.datetime) -> bool:
    try:
        with transaction.atomic():
            BackupRun.objects.create(
                kind=Kind.DAILY,
                outcome=Outcome.BEGUN,
                at=now,
                slot=slot,
                machine=platform.node()[:120],
            )
    except IntegrityError:
        return False
    except DatabaseError as error:
        # A disk too full for one row is when a backup on another disk is wanted most.
        logger.warning("the day's backup goes on without its row: %s", error)
    return True
