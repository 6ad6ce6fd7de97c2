"""The uploaded files: which there are, and which the database's rows name."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.db import models

from classroom.files.private_store import PART
from classroom.models import Substance
from classroom.safety.data_sheets import sheet_path
from studio.config import private_folder

from .manifest import is_safe

logger = logging.getLogger(__name__)

RESTORING: Final = ".restoring"
"""Begins the names of what a restore lays down before it is moved in."""

Ask = Callable[[str], Iterable[tuple[Any, ...]]]
"""Puts one question in SQL to the database that is being kept, or to a copy of it."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What changes when a file is still being written."""

    size: int
    changed_ns: int


def folder() -> Path:
    return Path(settings.EVIDENCE_DIR)


def files(root: Path | None = None) -> Iterator[tuple[str, Path, Stamp]]:
    """Every uploaded file with its path inside the store; links are never followed, and what is
    still being written is left out."""
    top = root or folder()
    waiting = [top]
    while waiting:
        here = waiting.pop()
        try:
            entries = sorted(os.scandir(here), key=lambda entry: entry.name)
        except FileNotFoundError:
            continue
        for entry in entries:
            if _is_no_upload(entry.name):
                continue
            if entry.is_dir(follow_symlinks=False):
                waiting.append(Path(entry.path))
            elif entry.is_file(follow_symlinks=False):
                found = _looked_at(top, entry)
                if found is not None:
                    yield found


def _is_no_upload(name: str) -> bool:
    return name == private_folder.MARKER or name.startswith(RESTORING) or PART in name


def _looked_at(top: Path, entry: os.DirEntry[str]) -> tuple[str, Path, Stamp] | None:
    path = Path(entry.path).relative_to(top).as_posix()
    if not is_safe(path):
        logger.warning("not of Benchledger, and left out of the backup: %r", path)
        return None
    try:
        seen = entry.stat(follow_symlinks=False)
    except FileNotFoundError:
        return None  # cleared at this very moment
    return path, Path(entry.path), Stamp(seen.st_size, seen.st_mtime_ns)


def bytes_in_all() -> int:
    return sum(stamp.size for _, _, stamp in files())


def named(ask: Ask, columns: dict[str, set[str]]) -> set[str]:
    """Paths that rows name; `columns` are those that each table has, as it may be of an
    earlier version."""
    found: set[str] = set()
    for model in apps.get_models():
        table = model._meta.db_table
        for field in model._meta.local_fields:
            column = str(field.column)
            if isinstance(field, models.FileField) and column in columns.get(table, ()):
                asked = f'SELECT DISTINCT "{column}" FROM "{table}"'  # noqa: S608  # names of ours
                found |= {str(name) for (name,) in ask(asked) if name}
    sheets = Substance._meta.db_table
    if {"school_id", "sheet_sha"} <= columns.get(sheets, set()):
        asked = f'SELECT DISTINCT school_id, sheet_sha FROM "{sheets}"'  # noqa: S608
        found |= {sheet_path(school, sha) for school, sha in ask(asked) if sha}
    return found
