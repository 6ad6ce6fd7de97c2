"""What to tell the student about a sheet that was read."""

from __future__ import annotations

from studio.core.drawing import Finding, Weight

from .limits import CROSS_DIAMETER_MM, LEAST_PIECE_MM
from .marking import Sheet


def remarks_on(sheet: Sheet) -> list[Finding]:
    found: list[Finding] = []
    if sheet.crosses:
        found.append(
            Finding(
                "cross-diameter",
                Weight.CAUTION,
                f"{sheet.crosses} cross{'es' if sheet.crosses > 1 else ''} read as a drill mark "
                f"of {CROSS_DIAMETER_MM:g} mm, because a cross does not say how large.",
                "Draw a circle of the drill's size where another diameter is meant.",
                value_mm=CROSS_DIAMETER_MM,
            )
        )
    if sheet.ink.at_border:
        found.append(
            Finding(
                "ink-at-border",
                Weight.CAUTION,
                "Something dark runs over the edge of the picture and was left out.",
                "If it is part of the drawing, take the picture again with paper all around it.",
            )
        )
    if sheet.small:
        found.append(
            Finding(
                "ink-small",
                Weight.CAUTION,
                f"{sheet.small} small spot{'s' if sheet.small > 1 else ''} outside every piece "
                f"and less than {LEAST_PIECE_MM:g} mm across left out.",
                "Nothing to do, unless one was meant to be a piece: then draw it larger.",
                limit_mm=LEAST_PIECE_MM,
            )
        )
    return found
