"""The small picture of a scanned or photographed sheet, kept beside the file it was read from.

It lies in the private store under the file's own name with another ending, so that every
version made from one file shares it and no row has to know of it.
"""

from __future__ import annotations

from typing import IO

from django.core.files.base import ContentFile

from studio.models import Pattern

ENDING = ".paper.jpg"


def paper_name(file_name: str) -> str:
    return file_name + ENDING


def keep_paper(pattern: Pattern, paper: bytes) -> None:
    """Keeps the picture of the sheet, where the reader made one."""
    name = pattern.file.name
    if paper and name:
        pattern.file.storage.save(paper_name(name), ContentFile(paper))


def has_paper(pattern: Pattern) -> bool:
    name = pattern.file.name
    if not name:
        return False
    return pattern.file.storage.exists(paper_name(name))


def open_paper(pattern: Pattern) -> IO[bytes]:
    """Raises FileNotFoundError where the pattern was no scan and no photo."""
    name = pattern.file.name
    if not name:
        raise FileNotFoundError
    opened: IO[bytes] = pattern.file.storage.open(paper_name(name), "rb")
    return opened
