"""Correcting a pattern on screen: what was read stays, the changes are kept beside it.

    lines = corrected(tracing, [change_from_json(each) for each in stored])

`changes` is the vocabulary, `changes_json` how it is sent and stored, `applying` what becomes of
the lines, `gaps` which open ends were perhaps meant to meet. Whatever cannot be is CannotChange
with a sentence for the student; nothing else is ever raised.
"""

from .applying import circle_points, corrected, middle_of, refuse_scribble
from .changes import (
    MAX_CHANGES,
    AddPoint,
    Change,
    Diameter,
    Join,
    MoveLine,
    MovePoint,
    Name,
    NewHole,
    Redraw,
    RemovePoint,
)
from .changes_json import change_from_json, change_to_json
from .errors import CannotChange
from .gaps import Gap, gaps

__all__ = [
    "MAX_CHANGES",
    "AddPoint",
    "CannotChange",
    "Change",
    "Diameter",
    "Gap",
    "Join",
    "MoveLine",
    "MovePoint",
    "Name",
    "NewHole",
    "Redraw",
    "RemovePoint",
    "change_from_json",
    "change_to_json",
    "circle_points",
    "corrected",
    "gaps",
    "middle_of",
    "refuse_scribble",
]
