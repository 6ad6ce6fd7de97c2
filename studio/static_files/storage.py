"""Where collected static files lie: joined, named by their content, compressed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path
from typing import Any, Protocol

from django.core.files.base import ContentFile, File

from . import modules, sheets
from .readable import ReadableStaticFilesStorage

SOURCES_NAME = "collected-from.txt"
"""Beside the collected files: a digest of the sources that they were made from."""


class Source(Protocol):
    """A finder's storage, as far as it is needed here."""

    def open(self, name: str) -> File[bytes]: ...


Paths = dict[str, tuple[Source, str]]


class _Joined:
    """A source of one file that exists nowhere but here."""

    def __init__(self, text: str) -> None:
        self.text = text

    def open(self, name: str) -> File[bytes]:
        return ContentFile(self.text.encode(), name=name)


class JoinedStaticFilesStorage(ReadableStaticFilesStorage):
    """Writes into a sheet or a script module what it imports, then names it by its content.

    A changed source changes the name of everything that holds it, so what a browser has kept
    may be kept for good. Collecting the same sources again touches nothing.
    """

    def post_process(
        self, paths: Paths, dry_run: bool = False, **options: Any
    ) -> Iterator[tuple[str, str | None, bool | Exception]]:
        if dry_run:
            return
        sources = _digest(paths)
        if self._already_made(sources):
            return
        self._forget_sources()
        yield from super().post_process(joined(paths), dry_run=dry_run, **options)
        self._save(SOURCES_NAME, ContentFile(sources.encode()))

    def _already_made(self, sources: str) -> bool:
        if not self.hashed_files or not self.exists(SOURCES_NAME):
            return False
        with self.open(SOURCES_NAME) as kept:
            if kept.read().decode() != sources:
                return False
        return all(self.exists(name) for name in self.hashed_files.values())

    def _forget_sources(self) -> None:
        # Before anything is written: breaking off half-way must not look finished.
        if self.exists(SOURCES_NAME):
            self.delete(SOURCES_NAME)


def joined(paths: Paths) -> Paths:
    """`paths` with every sheet and module that imports others replaced by the joined one.

    Raises ValueError where one cannot be joined.
    """

    sources = {name.replace("\\", "/"): source for name, source in paths.items()}

    def read(name: str) -> str:
        if name not in sources:
            raise ValueError(f"There is no static file {name}.")
        return _read(sources[name]).decode()

    out = dict(paths)
    for own_name in paths:
        name = own_name.replace("\\", "/")
        if name.startswith("css/") and "@import" in read(name):
            out[own_name] = (_Joined(sheets.join_sheet(name, read)), own_name)
        elif name.startswith("js/") and modules.imports_others(read(name)):
            out[own_name] = (_Joined(modules.join_module(name, read)), own_name)
    return out


def _digest(paths: Paths) -> str:
    """Changes with any source, with the way they are joined, and with what names them."""
    found = hashlib.sha256()
    for package in ("django", "whitenoise"):
        found.update(f"{package} {version(package)}\n".encode())
    for own in sorted(Path(__file__).parent.glob("*.py")):
        found.update(own.read_bytes())
    for name in sorted(paths):
        found.update(f"\n{name}\n".encode())
        found.update(_read(paths[name]))
    return found.hexdigest()


def _read(source: tuple[Source, str]) -> bytes:
    storage, path = source
    with storage.open(path) as file:
        return bytes(file.read())
