"""An upload: a file's bytes, once, with its name, its kind and what is said about its size.

It is made where a file comes in and handed on as it is, to whoever keeps, reads or refuses it.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath
from typing import IO, Self

from .bounds import MAX_BYTES, MAX_SIZE_MM
from .dxf import looks_like_dxf
from .errors import PatternError
from .rough import Asked
from .scan.limits import MAX_PICTURE_BYTES

NAME_LENGTH = 120
MOST_BYTES = max(MAX_BYTES, MAX_PICTURE_BYTES)
PICTURES = ("png", "jpeg", "tiff", "webp")
READ_KINDS = ("svg", "dxf", *PICTURES)

_MAGIC = (
    (b"\x89PNG", "png"),
    (b"\xff\xd8\xff", "jpeg"),
    (b"GIF8", "gif"),
    (b"II*\x00", "tiff"),
    (b"MM\x00*", "tiff"),
    (b"%PDF", "pdf"),
    (b"PK\x03\x04", "zip"),
    (b"BM", "bmp"),
    (b"%!PS", "eps"),
)
_KIND_WORDS = {
    "png": "a PNG picture",
    "jpeg": "a JPEG picture",
    "gif": "a GIF picture",
    "tiff": "a TIFF picture",
    "webp": "a WebP picture",
    "bmp": "a BMP picture",
    "pdf": "a PDF document",
    "eps": "a PostScript drawing",
    "zip": "a ZIP archive or an office document",
    "dxf": "a DXF drawing",
}


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
    check_size(upload)
    check_kind(upload)


def require_picture(upload: Upload) -> None:
    """Quickly, by its first bytes. Raises PatternError for what is no picture."""
    check_size(upload)
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


def kind_of(data: bytes, filename: str = "") -> str:
    """The kind of file by its first bytes (the name decides only for DXF), "" if unknown."""
    for magic, kind in _MAGIC:
        if data.startswith(magic):
            return kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data.startswith(b"\x1f\x8b"):
        return "svg"
    head = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip()
    if looks_like_dxf(data) or filename.lower().endswith(".dxf"):
        return "dxf"
    if head.startswith(b"<") or head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "svg"
    return ""


def check_size(upload: Upload) -> None:
    """Raises PatternError for a file larger than its kind may be. `MOST_BYTES` suits all kinds."""
    most = MAX_PICTURE_BYTES if upload.is_picture else MAX_BYTES
    if len(upload.data) > most:
        raise PatternError(
            "file-too-large",
            f"This file is larger than {most // 1_000_000} MB.",
            "Scan at 300 dpi in grey, or save the picture as JPEG."
            if upload.is_picture
            else "Save only the lines to be sawn, without pictures and hidden layers.",
        )


def check_options(asked: Asked) -> None:
    """Raises PatternError for a width or resolution that nobody can mean."""
    _check_option("width", asked.width_mm, 0.1, MAX_SIZE_MM, "mm")
    _check_option("resolution", asked.dpi, 10.0, 10_000.0, "dots per inch")


def check_kind(upload: Upload) -> None:
    """Raises PatternError for a file that is empty or has no reader."""
    if not upload.data.strip():
        raise PatternError("file-empty", "This file is empty.", "Choose another file.")
    if upload.kind not in READ_KINDS:
        what = _KIND_WORDS.get(upload.kind, "of a kind that is not known here")
        raise PatternError(
            "kind-not-read",
            f"This file is {what}; SVG and DXF drawings are read, and PNG, JPEG, TIFF and WebP "
            "pictures.",
            "Save the drawing as SVG, or the picture as PNG or JPEG.",
        )


def _check_option(name: str, value: float | None, least: float, most: float, unit: str) -> None:
    if value is None:
        return
    if not math.isfinite(value) or not least <= value <= most:
        raise PatternError(
            "option-bad",
            f"The {name} given, {value:g} {unit}, is not between {least:g} and {most:g}.",
            f"Give the {name} again.",
        )
