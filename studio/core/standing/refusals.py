"""Sentences about a pattern that cannot go on as it is, or cannot be changed any more."""

from __future__ import annotations

from .facts import Stage


def how_to_mend(*, built: bool) -> str:
    """What a student does about a version that has stops or was returned."""
    if built:
        return "Change the shapes and use the new drawing, or correct its lines here."
    return "Correct its lines here, or change your drawing and upload it again."


def why_pattern_is_fixed(stage: str) -> str:
    """Why no version can be brought, built, changed or chosen now; "" while the pattern is open."""
    match stage:
        case Stage.DRAWING | Stage.RETURNED:
            return ""
        case Stage.HANDED_IN:
            return "The pattern is handed in. Take it back first if you want to change it."
        case Stage.APPROVED:
            return (
                "The pattern is approved already, so it can no longer be changed here. Ask your "
                "teacher to hand it back if it must change."
            )
        case Stage.PLANNED:
            return "The pattern is approved already and metal is reserved for it."
        case Stage.BENCH:
            return "The pattern is approved already and at the bench."
        case _:
            return "The pattern is approved already, and the piece is made."
