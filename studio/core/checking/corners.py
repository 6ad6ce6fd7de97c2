"""Corners: inside ones the blade cannot follow, outside ones that are sharp to the hands."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.rounding import told_mm
from studio.core.areas import without
from studio.core.drawing import Finding, Limits, Piece, Weight

from .boundary import Boundary, boundary_of

_MOST = 20
_MOST_REGIONS = 300
_NOTICED_MM = 0.05  # what a blade leaves standing in a gentler corner is filed away unseen
_SHARP_TURN = math.radians(25.0)  # one vertex turning this far is a corner, not a curve
_POINT_DEG = 30.0  # a sharper outside point pricks; common practice, no source
_TIP_MM = 0.5  # tips rounded to this radius are not sharp; common practice, no source


def check_corners(piece: Piece, limits: Limits) -> list[Finding]:
    """Findings `corner-tight` and `point-sharp`, all cautions."""
    boundary = boundary_of(piece.outline)
    tight = _tight(piece, boundary, limits.least_inside_radius_mm)
    return tight + [_sharp_finding(piece, *point) for point in sharp_points(boundary)]


def _tight(piece: Piece, boundary: Boundary, radius: float) -> list[Finding]:
    """Where a disc of the blade's turning radius, rolled through the open, does not reach."""
    missed: list[BaseGeometry] = []
    for ring in piece.outline.interiors:
        window = Polygon(ring)
        reached = window.buffer(-radius, quad_segs=16).buffer(radius * 1.003, quad_segs=16)
        if not reached.is_empty:  # else the window check speaks about it
            missed += list(shapely.get_parts(without(window, reached)))
    shell = Polygon(piece.outline.exterior)
    closed = shell.buffer(radius, quad_segs=16).buffer(-radius * 1.003, quad_segs=16)
    missed += list(shapely.get_parts(without(closed, shell)))
    missed = [part for part in missed if part.area > 1e-4]
    missed = sorted(missed, key=lambda part: -part.area)[:_MOST_REGIONS]
    if not missed:
        return []
    turn = _turns(boundary)
    tree = shapely.STRtree(np.asarray(shapely.points(boundary.points), dtype=object).reshape(-1))
    findings: list[Finding] = []
    for part in missed:
        near = tree.query(part, "dwithin", 1e-3)
        # Only vertices where the open lies inside the bend; the metal's bends are reflex.
        near = near[turn[near] < 0.0]
        if not len(near):
            continue
        deepest = near[np.argmin(turn[near])]
        depth = _depth(part, boundary.points[near])
        if depth < _NOTICED_MM:
            continue
        value = _bend_radius(boundary, turn, near)
        if value >= radius - 0.02:
            continue
        x, y = (float(each) for each in boundary.points[deepest])
        # Two windows that touch share a corner; once is enough.
        if all(finding.at != (x, y) for finding in findings):
            findings.append(_tight_finding(piece, x, y, value, radius))
    sharp = [finding for finding in findings if not finding.value_mm]
    findings = sorted(
        (finding for finding in findings if finding.value_mm),
        key=lambda finding: finding.value_mm or 0.0,
    )
    if sharp:
        # Sharp corners are drawn on purpose and sawn by turning on the spot: one word for all.
        findings.insert(0, _all_sharp(sharp))
    if len(findings) > _MOST:
        last = findings[_MOST - 1]
        findings[_MOST - 1 :] = [
            Finding(
                last.code,
                last.weight,
                f"{len(findings) - _MOST + 1} more inside corners are as tight as this one.",
                last.mend,
                piece=piece.id,
                at=last.at,
                value_mm=last.value_mm,
                limit_mm=last.limit_mm,
            )
        ]
    return findings


def _all_sharp(sharp: list[Finding]) -> Finding:
    """One finding for all the sharp corners of a piece, shown at the first of them."""
    if len(sharp) == 1:
        return sharp[0]
    return replace(
        sharp[0],
        message=(
            f"{len(sharp)} inside corners are sharp, such as this one: "
            "the blade cannot follow them in one go."
        ),
        mend=(
            f"Round them to {sharp[0].limit_mm:g} mm, or saw into them from both sides or turn "
            "the blade on the spot."
        ),
    )


def _tight_finding(piece: Piece, x: float, y: float, value: float, radius: float) -> Finding:
    if value == 0.0:
        message = "This inside corner is sharp: the blade cannot follow it in one go."
    else:
        message = (
            f"This inside corner has a radius of about {told_mm(value, radius)} mm; "
            f"the blade follows {radius:g} mm."
        )
    return Finding(
        "corner-tight",
        Weight.CAUTION,
        message,
        f"Round it to {radius:g} mm, or saw into it from both sides or turn the blade on the spot.",
        piece=piece.id,
        at=(x, y),
        value_mm=value,
        limit_mm=radius,
    )


def _turns(boundary: Boundary) -> NDArray[np.float64]:
    """Turning angle at each vertex in radians, negative where the metal bends inwards."""
    ahead = boundary.edge
    behind = ahead[boundary.before]
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    dot = behind[:, 0] * ahead[:, 0] + behind[:, 1] * ahead[:, 1]
    turns: NDArray[np.float64] = np.arctan2(cross, dot)
    return turns


def _depth(part: BaseGeometry, corners: NDArray[np.float64]) -> float:
    """How far the bend stands off the disc that touches both its sides.

    The unreached part is bounded by the sides and by the disc's arc; the vertices of the
    bend are known, so all other points of the part lie on the disc.
    """
    points: NDArray[np.float64] = shapely.get_coordinates(part)
    away = np.min(np.hypot(*(points[:, None, :] - corners[None, :, :]).transpose(2, 0, 1)), axis=1)
    others = points[away > 1e-3]
    if not len(others):
        return 0.0
    arc = shapely.MultiPoint(others)
    return max(float(arc.distance(Point(corner))) for corner in corners)


def _bend_radius(boundary: Boundary, turn: NDArray[np.float64], near: NDArray[np.int64]) -> float:
    """Zero for a corner; else the length of the bend over the angle it turns through."""
    if float(turn[near].min()) < -_SHARP_TURN:
        return 0.0
    total = -float(turn[near].sum())
    points, after, before = boundary.points, boundary.after, boundary.before
    # Half of each vertex's two edges belongs to its turn.
    ahead = np.hypot(*(points[after[near]] - points[near]).T)
    behind = np.hypot(*(points[near] - points[before[near]]).T)
    shortest = np.minimum(ahead, behind)  # the long straight sides are not part of the bend
    return float(shortest.sum()) / total if total > 0.0 else math.inf


def sharp_points(boundary: Boundary) -> list[tuple[float, float, float]]:
    """Degrees, x and y of each point of metal that is too sharp, measured over `_TIP_MM`."""
    turn = _turns(boundary)
    candidates = np.flatnonzero(turn > _SHARP_TURN)
    found: list[tuple[float, float, float]] = []
    for vertex in candidates:
        one = _walk(boundary, int(vertex), boundary.after)
        other = _walk(boundary, int(vertex), boundary.before)
        here = boundary.points[vertex]
        a, b = one - here, other - here
        lengths = float(np.hypot(*a) * np.hypot(*b))
        if lengths == 0.0:
            continue
        cosine = float(np.clip(a @ b / lengths, -1.0, 1.0))
        angle = math.degrees(math.acos(cosine))
        if angle < _POINT_DEG - 0.1:
            found.append((angle, float(here[0]), float(here[1])))
    found.sort()
    kept: list[tuple[float, float, float]] = []
    for angle, x, y in found:
        if len(kept) < _MOST and all(
            math.hypot(x - other_x, y - other_y) > 2 * _TIP_MM for _, other_x, other_y in kept
        ):
            kept.append((angle, x, y))
    return kept


def _sharp_finding(piece: Piece, angle: float, x: float, y: float) -> Finding:
    return Finding(
        "point-sharp",
        Weight.CAUTION,
        f"This point has an angle of only {angle:.0f} degrees and will prick and catch.",
        f"Make it blunter than {_POINT_DEG:g} degrees or round its tip to {_TIP_MM:g} mm.",
        piece=piece.id,
        at=(x, y),
    )


def _walk(boundary: Boundary, vertex: int, onward: NDArray[np.int64]) -> NDArray[np.float64]:
    """The point `_TIP_MM` further along the ring."""
    left = _TIP_MM
    here: NDArray[np.float64] = boundary.points[vertex]
    for _ in range(1_000):
        vertex = int(onward[vertex])
        following = boundary.points[vertex]
        step = float(np.hypot(*(following - here)))
        if step >= left:
            point: NDArray[np.float64] = here + (following - here) * (left / step)
            return point
        left -= step
        here = following
    return here
