"""The app's own door for files that anybody may send: read in a process of its own.

The process (`child`) may die, hang or eat memory without taking the site along; what comes back
is the tracing, or the refusal in words, as a value. `read_pattern` does the same in the caller's
process and raises, which suits commands, and drawings that the app itself has written.
"""

from __future__ import annotations

import base64
import json
from dataclasses import replace
from typing import Any

from studio.core.confining import Stopped, confined

from .errors import PatternError, UnitUnknown
from .outcomes import Outcome, Read, unread
from .scan.limits import MAX_PIXELS, MEMORY_BYTES, SECONDS
from .scan.wire import packed
from .tracing import Tracing
from .uploads import Upload, check_kind, check_options, check_size

_DRAWING_SECONDS = 15
_DRAWING_MEMORY = 1_500_000_000

_MENDS = {
    "time": (
        "Reading this file took too long and was stopped.",
        "Save only the lines to be sawn, or scan in black and white at 300 dpi.",
    ),
    "busy": ("Too many files are being read at this moment.", "Try again in a minute."),
    "died": (
        "This file could not be read: it is damaged or needs too much memory.",
        "Open it in the program that made it, save it as a new file, and try again.",
    ),
}


def read_upload(upload: Upload) -> Outcome:
    """What came of it; no file makes it raise."""
    try:
        return Read(_tracing_of(upload))
    except PatternError as why:
        return unread(upload, why)


def _tracing_of(upload: Upload) -> Tracing:
    check_options(upload.asked)
    check_kind(upload)
    check_size(upload)
    reply = answer_of(
        f"{__package__}.child",
        packed(upload.data, upload.kind, upload.asked),
        seconds=SECONDS if upload.is_picture else _DRAWING_SECONDS,
        memory_bytes=MEMORY_BYTES if upload.is_picture else _DRAWING_MEMORY,
    )
    try:
        return understood(json.loads(reply))
    except (ValueError, KeyError, TypeError, AttributeError) as garbled:
        raise stopped_short("died") from garbled


def understood(reply: dict[str, Any]) -> Tracing:
    """Raises the refusal that the reading process met."""
    if "unit" in reply:
        raise UnitUnknown(*reply["unit"])
    if "refused" in reply:
        raise PatternError(*reply["refused"])
    paper = base64.b64decode(reply.get("paper", ""))
    return replace(Tracing.from_json(reply["tracing"]), paper=paper)


def answer_of(module: str, request: bytes, *, seconds: int, memory_bytes: int) -> bytes:
    """What the child answers. Raises PatternError when it comes to no end."""
    try:
        return confined(
            module,
            request,
            seconds=seconds,
            memory_bytes=memory_bytes,
            environment={"OPENCV_IO_MAX_IMAGE_PIXELS": str(MAX_PIXELS)},
        )
    except Stopped as stopped:
        raise stopped_short(stopped.why) from stopped


def stopped_short(why: str) -> PatternError:
    message, mend = _MENDS[why]
    return PatternError(f"reading-{why}", message, mend)
