"""What a line of the tracing is taken for."""

from __future__ import annotations

import re
from enum import StrEnum


class Label(StrEnum):
    """A student may give any of these but `OPEN`."""

    OUTLINE = "outline"
    WINDOW = "window"
    RING = "ring"
    RIVET = "rivet"
    PILOT = "pilot"
    SURFACE = "surface"
    IGNORE = "ignore"
    OPEN = "open"  # an open line outside every piece: not understood, blocks handing in


DRILL_LABELS = frozenset({Label.RING, Label.RIVET, Label.PILOT})
GIVEN_LABELS = tuple(label for label in Label if label is not Label.OPEN)

LABEL_WORDS = {
    Label.OUTLINE: "outline of a piece",
    Label.WINDOW: "window (pierced out)",
    Label.RING: "drill mark for a ring",
    Label.RIVET: "drill mark for a rivet or as an ornament",
    Label.PILOT: "pilot hole for the saw blade",
    Label.SURFACE: "surface line (not sawn)",
    Label.IGNORE: "left out",
    Label.OPEN: "open line, not understood",
}

LAYER_LABELS = {
    "outlines": Label.OUTLINE,
    "windows": Label.WINDOW,
    "drill-rings": Label.RING,
    "drill-rivets": Label.RIVET,
    "drill-pilots": Label.PILOT,
    "surface-lines": Label.SURFACE,
    "stock-pieces": Label.IGNORE,
    "offcut-outlines": Label.IGNORE,
    "saw-lines": Label.IGNORE,
}
"""What lines are on a layer of that name; the app's own files are written so."""


def hint_of_layer(name: str) -> str:
    """The label for a layer's name, "" when the name says nothing."""
    return str(LAYER_LABELS.get(name.casefold(), ""))


def hint_of_name(name: str) -> str:
    """The label for a line's own name, such as "windows-3"."""
    numbered = re.fullmatch(r"([a-z-]+)-\d+", name)
    return "" if numbered is None else hint_of_layer(numbered[1])
