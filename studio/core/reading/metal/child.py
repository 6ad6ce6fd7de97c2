"""What runs in the reading process: one photo of metal from standard input, one answer out."""

from __future__ import annotations

import gc
import json
from typing import BinaryIO

from ..errors import PatternError
from ..scan.opening import open_picture
from . import MetalAsked, MetalPhoto, unpacked


def main(source: BinaryIO, target: BinaryIO) -> None:
    data, kind, asked = unpacked(source.read())
    try:
        reply = read(data, kind, asked).to_json()
    except PatternError as error:
        reply = {"refused": [error.code, error.message, error.mend]}
    target.write(json.dumps(reply).encode())
    target.flush()


def read(data: bytes, kind: str, asked: MetalAsked) -> MetalPhoto:
    """The whole reading, in this very process. Raises PatternError."""
    picture = open_picture(data, kind, darkest=not asked.traced)
    import cv2

    cv2.setNumThreads(2)
    gc.disable()
    from .whole import metal_of

    return metal_of(picture.grey, asked)
