"""What comes of reading an upload: it is read, or one more answer is wanted, or it is refused."""

from __future__ import annotations

from dataclasses import dataclass

from .errors import PatternError, UnitUnknown
from .tracing import Tracing
from .uploads import Upload

ASKS_FOR_SIZE = frozenset(
    {
        "size-unknown",
        "frame-missing",
        "frame-hidden",
        "frame-odd",
        "photo-coarse",
        "picture-size",
        "scan-coarse",
    }
)
"""Refusals of a picture that another answer about its size mends."""


@dataclass(frozen=True, slots=True)
class Read:
    tracing: Tracing


@dataclass(frozen=True, slots=True)
class AsksSize:
    """A picture: what tells how large it is?"""

    why: PatternError


@dataclass(frozen=True, slots=True)
class AsksUnit:
    """A drawing: what is one unit of it?"""

    why: UnitUnknown


@dataclass(frozen=True, slots=True)
class TurnedDown:
    why: PatternError


Unread = AsksSize | AsksUnit | TurnedDown
"""Each says `why`, in words for the person."""
Outcome = Read | Unread


def unread(upload: Upload, why: PatternError) -> Unread:
    """Which answer, if any, would mend this."""
    if isinstance(why, UnitUnknown):
        return AsksUnit(why)
    if why.code in ASKS_FOR_SIZE and upload.is_picture:
        return AsksSize(why)
    return TurnedDown(why)
