"""What a line of the tracing is taken for."""

from __future__ import annotations

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
    Label.RING: "drilled hole for a ring",
    Label.RIVET: "drilled hole for a rivet or as an ornament",
    Label.PILOT: "pilot hole for the saw blade",
    Label.SURFACE: "surface line (not sawn)",
    Label.IGNORE: "left out",
    Label.OPEN: "open line, not understood",
}
