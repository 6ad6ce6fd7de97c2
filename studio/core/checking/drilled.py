"""Drilled holes: how much metal is left round each."""

from __future__ import annotations

import shapely
from shapely.geometry import LineString, Polygon

from classroom.figures.rounding import short_mm, told_mm
from studio.core.drawing import DrillKind, DrillMark, Finding, Limits, Piece, Weight

from .boundary import SLACK_MM

_MOST = 40


def check_drill_marks(piece: Piece, limits: Limits) -> list[Finding]:
    """Findings `hole-edge`, `holes-close` and `pilot-tight`."""
    findings: list[Finding] = []
    through = [mark for mark in piece.drill_marks if mark.kind is not DrillKind.PILOT]
    for mark in piece.drill_marks:
        if mark.kind is DrillKind.PILOT:
            findings += _pilot(piece, mark)
        else:
            findings += _edges(piece, mark, limits)
    if len(through) > 1:
        findings += _pairs(piece, through, limits)
    return findings[:_MOST]


def _edges(piece: Piece, mark: DrillMark, limits: Limits) -> list[Finding]:
    """Too near the outside, and too near a window: each its own place to mend."""
    result = []
    for rings, what in (
        ([piece.outline.exterior], "the outside"),
        (list(piece.outline.interiors), "a window"),
    ):
        if not rings:
            continue
        line = min(rings, key=mark.centre.distance)
        joining: LineString = shapely.shortest_line(mark.centre, line)
        web = joining.length - mark.diameter_mm / 2
        if not piece.outline.covers(mark.centre):
            web = -mark.diameter_mm / 2
        if web >= limits.least_hole_edge_mm - SLACK_MM:
            continue
        value = max(web, 0.0)
        result.append(
            Finding(
                "hole-edge",
                Weight.STOP,
                f"This {short_mm(mark.diameter_mm)} mm drill mark is only "
                f"{told_mm(value, limits.least_hole_edge_mm)} mm from {what}; "
                f"{limits.least_hole_edge_mm:g} mm is asked, or it tears out.",
                f"Move the drill mark away from {what}, or use a smaller drill.",
                piece=piece.id,
                at=_web_middle(joining, mark),
                value_mm=value,
                limit_mm=limits.least_hole_edge_mm,
            )
        )
    return result


def _web_middle(joining: LineString, mark: DrillMark) -> tuple[float, float]:
    if joining.length <= mark.diameter_mm / 2:
        return mark.x_mm, mark.y_mm
    point = joining.interpolate((joining.length + mark.diameter_mm / 2) / 2)
    return float(point.x), float(point.y)


def _pairs(piece: Piece, marks: list[DrillMark], limits: Limits) -> list[Finding]:
    result: list[Finding] = []
    for index, one in enumerate(marks[:-1]):
        for other in marks[index + 1 :]:
            apart = one.centre.distance(other.centre)
            web = apart - (one.diameter_mm + other.diameter_mm) / 2
            if web >= limits.least_hole_edge_mm - SLACK_MM:
                continue
            if len(result) >= _MOST:
                return result
            value = max(web, 0.0)
            result.append(
                Finding(
                    "holes-close",
                    Weight.STOP,
                    f"These two drill marks leave only "
                    f"{told_mm(value, limits.least_hole_edge_mm)} mm of metal between them; "
                    f"{limits.least_hole_edge_mm:g} mm is asked.",
                    "Move the drill marks apart, or draw one window instead.",
                    piece=piece.id,
                    at=((one.x_mm + other.x_mm) / 2, (one.y_mm + other.y_mm) / 2),
                    value_mm=value,
                    limit_mm=limits.least_hole_edge_mm,
                )
            )
    return result


def _pilot(piece: Piece, mark: DrillMark) -> list[Finding]:
    """A pilot hole must stay inside its window, or it bites into the finished edge."""
    windows = [Polygon(ring) for ring in piece.outline.interiors]
    room = max(
        (
            window.exterior.distance(mark.centre)
            for window in windows
            if window.contains(mark.centre)
        ),
        default=None,
    )
    if room is not None and room >= mark.diameter_mm / 2 - SLACK_MM:
        return []
    value = 0.0 if room is None else 2.0 * room
    return [
        Finding(
            "pilot-tight",
            Weight.CAUTION,
            f"This {short_mm(mark.diameter_mm)} mm pilot hole does not fit inside its window.",
            "Move the mark to the middle of the window, or use a smaller drill.",
            piece=piece.id,
            at=(mark.x_mm, mark.y_mm),
            value_mm=value,
            limit_mm=mark.diameter_mm,
        )
    ]
