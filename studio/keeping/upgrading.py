"""A backup before the database changes its shape, or no change."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from classroom.models import BackupRun

from . import databases
from .daily import backup_folder, write_down
from .refusals import NotKept, Unusable
from .retention import UPGRADE, name_for
from .writing import Made, make_backup

logger = logging.getLogger(__name__)

GO_ON = "BENCHLEDGER_BACKUP_BEFORE_UPGRADE=0"


class NoUpgrade(Exception):
    """The backup failed, so nothing was changed; the message says what to do."""


@contextmanager
def kept_before_upgrade() -> Iterator[Made | None]:
    """Around the migrations: keeps the school first, where there is one and there are any.

    Raises NoUpgrade. What became of it is written down afterwards, when its table is there.
    """
    if not settings.BACKUP_BEFORE_UPGRADE or not _changes_wait() or not databases.holds_school():
        yield None
        return
    try:
        made = make_backup(backup_folder() / name_for(UPGRADE, timezone.now()), why="upgrade")
    except (NotKept, Unusable) as error:
        raise NoUpgrade(
            f"Before its upgrade the school is backed up, and that failed: {error} Nothing was "
            f"changed. Mend it and start again, or start once with {GO_ON} to go on without."
        ) from error
    logger.info("before the upgrade everything was kept in %s", made.file)
    yield made
    write_down(
        BackupRun.Kind.UPGRADE,
        BackupRun.Outcome.DONE,
        file=made.file,
        size_bytes=made.size_bytes,
    )


def _changes_wait() -> bool:
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
