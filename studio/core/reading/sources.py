"""The readers of patterns, and reading with them in the caller's own process.

A new kind of source is one function from bytes and `Asked` to `Rough`, entered in `READERS`, and
the signs by which its files are known (`uploads`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from .dxf import read_dxf
from .joining.tidying import tidy
from .rough import Asked, Reference, Rough
from .scan import read_picture
from .svg import read_svg
from .tracing import Tracing
from .uploads import PICTURES, Upload, check_kind, check_options

Reader = Callable[[bytes, Asked], Rough]


def _picture(kind: str, data: bytes, asked: Asked) -> Rough:
    return read_picture(data, kind, asked)


READERS: dict[str, Reader] = {
    "svg": read_svg,
    "dxf": read_dxf,
    **{kind: partial(_picture, kind) for kind in PICTURES},
}


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
    upload = Upload(data, Asked(filename, width_mm, dpi, frame, reference, unit))
    check_options(upload.asked)
    check_kind(upload)
    return tidy(READERS[upload.kind](data, upload.asked))
