"""The door for patterns: tells what kind of file this is and hands it to its reader.

A new kind of source is one function from bytes and `Asked` to `Rough`, entered in `READERS`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

from .bounds import MAX_BYTES, MAX_SIZE_MM
from .dxf import looks_like_dxf, read_dxf
from .errors import PatternError
from .joining.tidying import tidy
from .rough import Asked, Reference, Rough
from .scan import read_picture
from .scan.limits import MAX_PICTURE_BYTES
from .svg import read_svg
from .tracing import Tracing

Reader = Callable[[bytes, Asked], Rough]


def _picture(kind: str, data: bytes, asked: Asked) -> Rough:
    return read_picture(data, kind, asked)


MOST_BYTES = max(MAX_BYTES, MAX_PICTURE_BYTES)
PICTURES = ("png", "jpeg", "tiff", "webp")

READERS: dict[str, Reader] = {
    "svg": read_svg,
    "dxf": read_dxf,
    **{kind: partial(_picture, kind) for kind in PICTURES},
}

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


def check_bytes(data: bytes, filename: str = "") -> None:
    """Raises PatternError for a file larger than its kind may be. `MOST_BYTES` suits all kinds."""
    picture = kind_of(data, filename) in PICTURES
    most = MAX_PICTURE_BYTES if picture else MAX_BYTES
    if len(data) > most:
        raise PatternError(
            "file-too-large",
            f"This file is larger than {most // 1_000_000} MB.",
            "Scan at 300 dpi in grey, or save the picture as JPEG."
            if picture
            else "Save only the lines to be sawn, without pictures and hidden layers.",
        )


def read_pattern(
    data: bytes,
    *,
    filename: str = "",
    width_mm: float | None = None,
    dpi: float | None = None,
    frame: str | None = None,
    reference: Reference | None = None,
    unit: str | None = None,
) -> Tracing:
    """Reads the lines of a pattern file in millimetres, y upwards.

    `width_mm`: the drawing, from its leftmost to its rightmost line, is this wide; it
    overrides the file's own units. `dpi`: dots (px) per inch where the file states no
    physical size. `frame`: the printed capture frame of a photo; `reference`: a thing of known
    size marked in a photo; drawings ignore both. `unit`: what one unit of a DXF drawing is
    where the file does not say it, or `ASK`.

    Raises `PatternError` only when nothing can be read at all, and `UnitUnknown` for `ASK`;
    everything else is in the tracing's findings.
    """
    asked = Asked(filename, width_mm, dpi, frame, reference, unit)
    return tidy(READERS[checked_kind(data, asked)](data, asked))


def checked_kind(data: bytes, asked: Asked) -> str:
    """The kind of a file that has a reader. Raises PatternError for others and for odd options."""
    _check_option("width", asked.width_mm, 0.1, MAX_SIZE_MM, "mm")
    _check_option("resolution", asked.dpi, 10.0, 10_000.0, "dots per inch")
    if not data.strip():
        raise PatternError("file-empty", "This file is empty.", "Choose another file.")
    kind = kind_of(data, asked.filename)
    if kind not in READERS:
        what = _KIND_WORDS.get(kind, "of a kind that is not known here")
        raise PatternError(
            "kind-not-read",
            f"This file is {what}; SVG and DXF drawings are read, and PNG, JPEG, TIFF and WebP "
            "pictures.",
            "Save the drawing as SVG, or the picture as PNG or JPEG.",
        )
    return kind


def _check_option(name: str, value: float | None, least: float, most: float, unit: str) -> None:
    if value is None:
        return
    if not math.isfinite(value) or not least <= value <= most:
        raise PatternError(
            "option-bad",
            f"The {name} given, {value:g} {unit}, is not between {least:g} and {most:g}.",
            f"Give the {name} again.",
        )
