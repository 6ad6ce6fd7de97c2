"""The pattern check: everything that would go wrong at the bench, all at once.

Each finding has a point on the drawing, the value measured there, the limit, and how to mend
it. Stops block handing in; cautions do not. Measured on the flattened drawing, whose curves
are right to 0.02 mm; a value that reaches its limit to within that tolerance passes.
"""

from __future__ import annotations

from studio.core.drawing import Drawing, Finding, Limits, Piece, Weight
from studio.core.shortening import shortened

from .corners import check_corners
from .drilled import check_drill_marks
from .narrows import PairBudget, TooManyPairs
from .sizes import check_overlaps, check_sizes
from .walls import check_walls
from .windows import check_windows

MOST_VERTICES = 50_000


def check(drawing: Drawing, limits: Limits) -> tuple[Finding, ...]:
    """All findings, stops before cautions, piece by piece in each."""
    if not drawing.pieces:
        return (
            Finding(
                "no-pieces",
                Weight.STOP,
                "There is no closed outline, so there is no piece to saw.",
                "Draw the outside of your piece as one closed line.",
            ),
        )
    corners = sum(
        len(ring.coords)
        for piece in drawing.pieces
        for ring in (piece.outline.exterior, *piece.outline.interiors)
    )
    if corners > MOST_VERTICES:
        return (
            Finding(
                "too-detailed",
                Weight.STOP,
                f"This drawing has {corners:,} corners, too many to check.",
                "Simplify the lines in your drawing program.",
            ),
        )
    findings: list[Finding] = []
    budget = PairBudget()
    for piece in drawing.pieces:
        findings += check_sizes(piece, limits)
        try:
            findings += check_walls(piece, limits, budget)
        except TooManyPairs:
            findings.append(_too_dense(piece))
            break  # the other checks would take as long
        findings += check_drill_marks(piece, limits)
        findings += check_windows(piece, limits)
        findings += check_corners(piece, limits)
    findings += check_overlaps(drawing.pieces)
    findings.sort(key=lambda finding: finding.weight is Weight.CAUTION)  # stable
    return shortened(findings)


def _too_dense(piece: Piece) -> Finding:
    point = piece.outline.representative_point()
    return Finding(
        "too-detailed",
        Weight.STOP,
        "The lines of this piece lie too close together to be measured.",
        "Check the size of the drawing, or simplify its lines.",
        piece=piece.id,
        at=(float(point.x), float(point.y)),
    )


__all__ = ["check"]
