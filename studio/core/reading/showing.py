"""A small picture of an uploaded scan or photo, made anew in the reading process.

It is what a person sees when marking something in it; it carries nothing else of the file.
"""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass
from typing import BinaryIO

from .door import answer_of, stopped_short
from .errors import PatternError
from .rough import Asked
from .scan.limits import MEMORY_BYTES, SECONDS
from .scan.wire import packed, unpacked


@dataclass(frozen=True, slots=True)
class Shown:
    """`width` and `height` are those of the whole picture, upright, in its own dots."""

    jpeg: bytes
    width: int
    height: int


def shown_small(data: bytes, kind: str) -> Shown:
    """`kind` is one of `uploads.PICTURES`. Raises PatternError for what is no picture."""
    request = packed(data, kind, Asked())
    reply = answer_of(__name__, request, seconds=SECONDS, memory_bytes=MEMORY_BYTES)
    try:
        found = json.loads(reply)
        if "refused" in found:
            raise PatternError(*found["refused"])
        return Shown(base64.b64decode(found["jpeg"]), int(found["width"]), int(found["height"]))
    except (ValueError, KeyError, TypeError) as garbled:
        raise stopped_short("died") from garbled


def main(source: BinaryIO, target: BinaryIO) -> None:
    """Runs in the reading process."""
    data, kind, _ = unpacked(source.read())
    target.write(json.dumps(_answer(data, kind)).encode())
    target.flush()


def _answer(data: bytes, kind: str) -> dict[str, object]:
    from .scan.opening import open_picture
    from .scan.paper import paper_of

    try:
        grey = open_picture(data, kind).grey
    except PatternError as refused:
        return {"refused": [refused.code, refused.message, refused.mend]}
    jpeg = base64.b64encode(paper_of(grey)).decode()
    return {"jpeg": jpeg, "width": grey.shape[1], "height": grey.shape[0]}
