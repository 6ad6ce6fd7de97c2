"""What runs in the reading process: one request from standard input, one answer to the output."""

from __future__ import annotations

import gc
from typing import BinaryIO

from ..errors import PatternError
from ..rough import Asked, Rough
from . import wire
from .opening import open_picture


def main(source: BinaryIO, target: BinaryIO) -> None:
    data, kind, asked = wire.unpacked(source.read())
    try:
        reply = wire.answer(read(data, kind, asked))
    except PatternError as error:
        reply = wire.refusal(error)
    target.write(reply)
    target.flush()


def read(data: bytes, kind: str, asked: Asked) -> Rough:
    """The whole reading, in this very process. Raises PatternError."""
    picture = open_picture(data, kind)
    import cv2

    cv2.setNumThreads(2)
    gc.disable()  # some hundred thousand small lists and no cycles
    from .scaling.scale import rough_of

    return rough_of(picture, asked)
