"""Whole pieces: too large for the brief, too small to hold, lying on one another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Limits, Piece, Weight

from .boundary import SLACK_MM

_MOST = 40


def check_sizes(piece: Piece, limits: Limits) -> list[Finding]:
    """Findings `too-large` (the piece may be turned by a quarter) and `too-small`."""
    width, height = piece.size_mm
    x0, y0, x1, y1 = piece.outline.bounds
    centre = (x0 + x1) / 2, (y0 + y1) / 2
    findings: list[Finding] = []
    most = limits.max_width_mm, limits.max_height_mm
    over = max(width - most[0], height - most[1])
    over_turned = max(height - most[0], width - most[1])
    if min(over, over_turned) > SLACK_MM:
        sides = (width, height) if over <= over_turned else (height, width)
        side, limit = max(zip(sides, most, strict=True), key=lambda pair: pair[0] - pair[1])
        findings.append(
            Finding(
                "too-large",
                Weight.STOP,
                f"This piece is {told_mm(width, most[0])} mm by {told_mm(height, most[1])} mm; "
                f"the brief allows "
                f"{most[0]:g} mm by {most[1]:g} mm.",
                "Make the drawing smaller, or check its units.",
                piece=piece.id,
                at=centre,
                value_mm=side,
                limit_mm=limit,
            )
        )
    longest = max(width, height)
    if longest < limits.least_holding_mm - SLACK_MM:
        findings.append(
            Finding(
                "too-small",
                Weight.CAUTION,
                f"This piece is only {told_mm(longest, limits.least_holding_mm)} mm long, so it is "
                "hard to hold while sawing; "
                f"{limits.least_holding_mm:g} mm is asked.",
                "Make it larger, or leave a tab of metal on it until the end and hold it by that.",
                piece=piece.id,
                at=centre,
                value_mm=longest,
                limit_mm=limits.least_holding_mm,
            )
        )
    return findings


def check_overlaps(pieces: Sequence[Piece]) -> list[Finding]:
    """Findings `pieces-overlap`: two pieces want the same metal."""
    if len(pieces) < 2:
        return []
    outlines = np.asarray([piece.outline for piece in pieces], dtype=object)
    tree = shapely.STRtree(outlines)
    findings: list[Finding] = []
    for one, other in tree.query(outlines, "intersects").T:
        if one >= other or len(findings) >= _MOST:
            continue
        common = outlines[one].intersection(outlines[other])
        if common.buffer(-SLACK_MM / 2).is_empty:
            continue  # they only touch
        point = common.representative_point()
        findings.append(
            Finding(
                "pieces-overlap",
                Weight.STOP,
                f"Pieces {pieces[one].id} and {pieces[other].id} lie on top of each other here.",
                "Move them apart, or join them into one outline.",
                piece=pieces[one].id,
                at=(float(point.x), float(point.y)),
            )
        )
    return findings
