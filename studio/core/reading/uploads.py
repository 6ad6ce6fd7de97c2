"""An upload: a file's bytes, once, with its name, its kind and what is said about its size.

It is made where a file comes in and handed on as it is, to whoever keeps, reads or refuses it.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath
from typing import IO, Self

from .bounds import MAX_BYTES
from .errors import PatternError
from .rough import Asked
from .sources import MOST_BYTES, PICTURES, check_bytes, checked_kind, kind_of

NAME_LENGTH = 120


@dataclass(frozen=True, slots=True)
class Upload:
    """`asked` has the name and what the person says; `kind` is "" where nobody knows it."""

    data: bytes = field(repr=False)
    asked: Asked = field(default_factory=Asked)
    kind: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", kind_of(self.data, self.name))

    @classmethod
    def taken(cls, file: IO[bytes], asked: Asked) -> Self:
        """Reads at most one byte more than a file of its kind may have; its name made harmless."""
        asked = replace(asked, filename=plain_name(asked.filename))
        data = file.read(MAX_BYTES + 1)
        if kind_of(data, asked.filename) in PICTURES:
            data += file.read(MOST_BYTES - MAX_BYTES)
        return cls(data, asked)

    @property
    def name(self) -> str:
        return self.asked.filename

    @property
    def is_picture(self) -> bool:
        return self.kind in PICTURES


def require_readable(upload: Upload) -> None:
    """What can be told without reading. Raises PatternError for an unknown or too large file."""
    check_bytes(upload.data, upload.name)
    checked_kind(upload.data, Asked(upload.name))


def require_picture(upload: Upload) -> None:
    """Quickly, by its first bytes. Raises PatternError for what is no picture."""
    check_bytes(upload.data, upload.name)
    if not upload.is_picture:
        raise PatternError(
            "no-picture",
            "Only in a scan or photo something can be marked.",
            "Leave that choice empty for a drawing.",
        )


def plain_name(filename: str) -> str:
    """The file's own name as harmless text: no folders, no control signs, not too long."""
    last = PurePosixPath(filename.replace("\\", "/")).name
    shown = "".join(
        sign for sign in unicodedata.normalize("NFC", last) if sign.isprintable()
    ).strip(" .")
    if len(shown) > NAME_LENGTH:
        ending = PurePosixPath(shown).suffix[:8]
        shown = shown[: NAME_LENGTH - len(ending)] + ending
    return shown or "pattern"
