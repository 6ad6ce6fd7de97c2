"""Where open lines belong: on a piece as surface lines, or nowhere, which is a stop."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Piece, Weight
from studio.core.reading.bounds import HEAL_GAP_MM
from studio.core.reading.labels import Label
from studio.core.reading.tracing import Line, gap

from .enclosing import Enclosing

_CROSS_SLACK = 0.75  # the cross in a drill mark may stand out of its circle by this share


def place_open_lines(
    lines: list[Line],
    pieces: list[Piece],
    enclosing: Enclosing,
    labels: dict[str, Label],
    pieces_of: dict[str, str],
    findings: list[Finding],
) -> dict[str, list[LineString]]:
    """Labels every line given and returns the surface lines by piece id.

    Closed lines come here too when a student calls them surface lines.
    """
    shells = [Polygon(piece.outline.exterior) for piece in pieces]
    for shell in shells:
        shapely.prepare(shell)
    drills = [
        Point(mark.x_mm, mark.y_mm).buffer(mark.diameter_mm / 2 * (1 + _CROSS_SLACK))
        for piece in pieces
        for mark in piece.drill_marks
    ]
    broken = [enclosing.areas[each] for each in enclosing.tangled if labels[each] is Label.OUTLINE]
    ends = [line for line in lines if not line.closed]
    surfaces: dict[str, list[LineString]] = {}
    for line in lines:
        asked = labels.get(line.id) is Label.SURFACE
        drawn = LineString([*line.points, line.points[0]] if line.closed else line.points)
        if not asked and any(drill.covers(drawn) for drill in drills):
            labels[line.id] = Label.IGNORE
            continue
        holding = [index for index, shell in enumerate(shells) if _holds(shell, drawn)]
        if not holding:
            if not asked and any(_holds(area, drawn) for area in broken):
                labels[line.id] = Label.SURFACE  # its piece is refused already
                continue
            _outside(line, drawn, asked, shells, ends, labels, findings)
            continue
        index = min(holding, key=lambda each: shells[each].area)
        kept = _on_metal(line, drawn, pieces[index], labels, findings)
        if kept:
            surfaces.setdefault(pieces[index].id, []).extend(kept)
            pieces_of[line.id] = pieces[index].id
    return surfaces


def _holds(area: BaseGeometry, drawn: LineString) -> bool:
    """Whether the line lies on the area; lines drawn right up to the edge may overshoot.

    Without a buffer of the area, which takes seconds for a finely jagged outline.
    """
    if area.covers(drawn):
        return True
    if not area.intersects(drawn):
        return False
    # Points so close that none between two of them is further off than the gap.
    over = shapely.segmentize(drawn.difference(area), 2 * HEAL_GAP_MM)
    points: Any = shapely.points(shapely.get_coordinates(over))
    shapely.prepare(area)
    return bool(np.all(shapely.dwithin(area, points, HEAL_GAP_MM)))


def _on_metal(
    line: Line,
    drawn: LineString,
    piece: Piece,
    labels: dict[str, Label],
    findings: list[Finding],
) -> list[LineString]:
    """The stretches of the line that lie on metal and not over a window."""
    labels[line.id] = Label.SURFACE
    if _holds(piece.outline, drawn):
        return [drawn]
    found = drawn.intersection(piece.outline)
    stretches = [
        each
        for each in shapely.get_parts(shapely.line_merge(found))
        if isinstance(each, LineString) and each.length > HEAL_GAP_MM
    ]
    point = _middle(drawn.difference(piece.outline))
    if stretches:
        findings.append(
            Finding(
                "surface-over-window",
                Weight.CAUTION,
                "This surface line runs across a window; only what lies on metal is kept.",
                "Nothing to do, unless the line should be sawn: then close it.",
                piece=piece.id,
                at=point,
            )
        )
    else:
        labels[line.id] = Label.IGNORE
        findings.append(
            Finding(
                "line-in-window",
                Weight.CAUTION,
                "This open line lies in a window, which is removed; it is left out.",
                "Close the line if it should be a piece of its own, or delete it.",
                piece=piece.id,
                at=point,
            )
        )
    return stretches


def _outside(
    line: Line,
    drawn: LineString,
    asked: bool,
    shells: list[Polygon],
    ends: list[Line],
    labels: dict[str, Label],
    findings: list[Finding],
) -> None:
    shell = next((each for each in shells if each.intersects(drawn)), None)
    if asked:
        labels[line.id] = Label.IGNORE
        findings.append(
            Finding(
                "surface-outside",
                Weight.CAUTION,
                "This surface line does not lie on one piece and is left out.",
                "Move it onto the piece, or shorten it so that it ends at the edge.",
                at=_middle(drawn),
            )
        )
        return
    labels[line.id] = Label.OPEN
    if shell is not None and not line.closed:
        over = drawn.difference(shell)
        findings.append(
            Finding(
                "line-open",
                Weight.STOP,
                "This open line runs over the edge of the piece, so it cannot be sawn or marked.",
                "Shorten it to end at the edge, or join its ends if it is an outline.",
                at=_middle(over),
            )
        )
        return
    point, width, meeting = _widest_riddle(line, ends)
    if meeting > 2:
        findings.append(
            Finding(
                "line-open",
                Weight.STOP,
                f"{meeting} lines meet here, so it is not clear which way the outline goes.",
                "Draw each outline as one closed line of its own.",
                at=point,
            )
        )
        return
    findings.append(
        Finding(
            "line-open",
            Weight.STOP,
            f"This line is not closed: there is a gap of {told_mm(width, HEAL_GAP_MM)} mm here.",
            "Join the two ends in your drawing program so that the outline closes.",
            at=point,
            value_mm=width,
            limit_mm=HEAL_GAP_MM,
        )
    )


def _widest_riddle(line: Line, ends: list[Line]) -> tuple[tuple[float, float], float, int]:
    """Where the line should go on: middle of the gap to the nearest end, width, ends there."""
    first, last = line.points[0], line.points[-1]
    choices: list[tuple[float, tuple[float, float], tuple[float, float]]] = [
        (gap(first, last), first, last)
    ]
    for other in ends:
        if other.id != line.id:
            choices += [
                (gap(own, theirs), own, theirs)
                for own in (first, last)
                for theirs in (other.points[0], other.points[-1])
            ]
    width, own, theirs = min(choices)
    meeting = sum(
        gap(own, end) <= HEAL_GAP_MM
        for other in ends
        for end in (other.points[0], other.points[-1])
    )
    return ((own[0] + theirs[0]) / 2, (own[1] + theirs[1]) / 2), width, meeting


def _middle(geometry: BaseGeometry) -> tuple[float, float]:
    stretches = [each for each in shapely.get_parts(geometry) if isinstance(each, LineString)]
    if not stretches:
        point = geometry.representative_point()
    else:
        point = max(stretches, key=lambda each: each.length).interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)
