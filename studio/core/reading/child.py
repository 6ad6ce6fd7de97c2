"""What runs in the reading process: one file from standard input, one tracing to the output."""

from __future__ import annotations

import base64
import json
from typing import BinaryIO

from .errors import PatternError, UnitUnknown
from .joining.tidying import tidy
from .rough import Asked, Rough
from .scan.wire import unpacked
from .sources import READERS
from .uploads import PICTURES


def main(source: BinaryIO, target: BinaryIO) -> None:
    data, kind, asked = unpacked(source.read())
    target.write(json.dumps(answer(data, kind, asked), allow_nan=False).encode())
    target.flush()


def answer(data: bytes, kind: str, asked: Asked) -> dict[str, object]:
    try:
        tracing = tidy(_read(data, kind, asked))
        paper = base64.b64encode(tracing.paper).decode()
        return {"tracing": tracing.to_json(), "paper": paper}
    except UnitUnknown as unknown:
        return {"unit": [unknown.width, unknown.height]}
    except PatternError as refused:
        return {"refused": [refused.code, refused.message, refused.mend, refused.where]}


def _read(data: bytes, kind: str, asked: Asked) -> Rough:
    if kind in PICTURES:
        from .scan.child import read  # brings the picture libraries along

        return read(data, kind, asked)
    return READERS[kind](data, asked)
