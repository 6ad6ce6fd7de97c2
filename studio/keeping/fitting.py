"""May this backup be brought in here: right kind, no newer version, an empty installation?"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

from django.apps import apps
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from . import databases, evidence
from .manifest import Manifest
from .refusals import Unusable

OWN_APPS: Final = ("classroom", "inventory", "studio")


def require_fitting(file: Path, manifest: Manifest) -> None:
    names = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
    here = databases.kind()
    if manifest.kind != here:
        raise Unusable(
            f"{file} is of {names[manifest.kind]}, this installation is on "
            f"{names.get(here, here)}. Point DATABASE_URL at an empty database of that kind."
        )
    loader = MigrationLoader(None)
    known = set(loader.disk_migrations or ())
    known |= {old for new in loader.replacements.values() for old in new.replaces}
    installed = {config.label for config in apps.get_app_configs()} | {*OWN_APPS}
    later = sorted(one for one in manifest.migrations if one[0] in installed and one not in known)
    if later:
        raise Unusable(
            f"{file} was made by a newer version of Benchledger (it knows {'.'.join(later[-1])}). "
            "Bring this installation up to that version, then bring the backup in."
        )


def require_no_rows() -> None:
    """Raises Unusable where the database knows anything of a school already."""
    with connection.cursor() as cursor:
        holding = tables_with_rows(cursor, connection.introspection.table_names(cursor))
    if holding:
        raise Unusable(
            f"This installation holds data already ({', '.join(holding[:3])}), and nothing is ever "
            "written over. Bring the backup into an empty one (BENCHLEDGER_VAR, DATABASE_URL)."
        )


def require_no_files() -> None:
    """Raises Unusable where a file lies in the store for uploaded files."""
    there = next(evidence.files(), None)
    if there is not None:
        raise Unusable(
            f"The folder for uploaded files, {evidence.folder()}, holds files already "
            f"({there[0]}). Bring the backup into an empty one (BENCHLEDGER_EVIDENCE)."
        )


def tables_with_rows(cursor: Any, tables: Iterable[str]) -> list[str]:
    """Tables of ours that say something of a school, as far as they are there."""
    wanted = {
        model._meta.db_table
        for config in apps.get_app_configs()
        if config.label in OWN_APPS
        for model in config.get_models(include_auto_created=True)
        if config.label != "classroom" or model._meta.model_name in {"school", "user"}
    }
    found = []
    for table in sorted(wanted & set(tables)):
        cursor.execute(f'SELECT 1 FROM "{table}" LIMIT 1')  # noqa: S608  # names of ours
        if cursor.fetchone() is not None:
            found.append(table)
    return found
