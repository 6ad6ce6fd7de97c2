"""Is a backup whole? Every content by its hash, the database by opening it, the files by name.

A PostgreSQL dump is read whole and its rows are counted. Its migrations and the files that it
names are those of the table of contents, which were read in the very snapshot that was dumped.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from django.conf import settings

from .container import Backup, opened
from .manifest import Manifest
from .refusals import NotWhole, Unusable


def prove(file: Path, *, scratch: Path | None = None) -> Manifest:
    """Raises Unusable (no backup of ours), NotWhole (with what is wrong), or OSError.

    The database is unpacked in `scratch` (default: this installation's private folder).
    """
    with (
        opened(file) as backup,
        tempfile.TemporaryDirectory(prefix=".checking-", dir=scratch or settings.VAR_DIR) as place,
    ):
        manifest = backup.manifest
        found: list[str] = []
        for member in manifest.members:
            if member is not manifest.database:
                try:
                    backup.copy(member, None)
                except NotWhole as error:
                    found.extend(error.faults)
        found.extend(_database_faults(backup, Path(place)))
        if found:
            raise NotWhole(found[:20])
        return manifest


def unpack_database(backup: Backup, to: Path) -> None:
    """Raises NotWhole or Unusable (no room for it), or OSError."""
    member = backup.manifest.database
    if shutil.disk_usage(to.parent).free < member.size:
        raise Unusable(f"There is no room in {to.parent} to unpack the database.")
    with to.open("xb") as copy:
        backup.copy(member, copy)


def _database_faults(backup: Backup, place: Path) -> list[str]:
    manifest = backup.manifest
    copy = place / "database"
    try:
        unpack_database(backup, copy)
    except NotWhole as error:
        return list(error.faults)
    if manifest.kind == "postgresql":
        from .postgresql import faults

        return faults(copy, manifest.tables)
    from . import sqlite

    found = sqlite.faults(copy, manifest.tables)
    if found:
        return found
    with sqlite.reading(copy) as database:
        there = {*manifest.evidence, *manifest.missing}
        lost = sorted(sqlite.named(database) - there)
        applied = set(sqlite.migrations(database, manifest.tables))
    if applied != set(manifest.migrations):
        found.append("The database in it is not of the version that its table of contents says.")
    return found + [f"The file {path} is named in its database and is not in it." for path in lost]
