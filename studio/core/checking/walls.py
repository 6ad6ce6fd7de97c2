"""Metal that is too thin: bridges between windows, webs to the outside, necks and prongs."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from classroom.figures.rounding import told_mm
from studio.core.areas import without
from studio.core.drawing import Finding, Limits, Piece, Weight

from .boundary import SLACK_MM, Boundary, boundary_of
from .corners import sharp_points
from .narrows import Narrows, PairBudget, narrows
from .places import Places

_MOST_PER_KIND = 40
_MOST_NARROWS = 3_000  # the narrowest; a drawing with more has worse to mend first
_MOST_REGIONS = 300
# A bump no longer than it is wide is not a neck: its way round is at most three widths.
_STUB = 3.0
# A thin end counts as a prong when it is longer than the tip of a 30 degree corner, which
# the corner check speaks about: a disc of radius r stays r (1/sin 15 - 1) from such a tip.
_TIP = 1.0 / np.sin(np.radians(15.0)) - 1.0

_WORDS = {
    "bridge-thin": (
        "The bridge between two windows is only {value} mm wide here; {limit:g} mm is asked.",
        "Move the windows apart or make one of them smaller.",
    ),
    "web-thin": (
        "Between this window and the outside only {value} mm of metal is left; "
        "{limit:g} mm is asked.",
        "Move the window inwards, make it smaller, or let the outline go further out.",
    ),
    "neck-thin": (
        "The metal is only {value} mm wide here; {limit:g} mm is asked.",
        "Make this place wider.",
    ),
    "slot-narrow": (
        "This slot is only {value} mm wide, but the saw blade takes {limit:g} mm.",
        "Make the slot wider, or draw it as one surface line.",
    ),
}


def check_walls(piece: Piece, limits: Limits, budget: PairBudget) -> list[Finding]:
    """`bridge-thin`, `web-thin`, `neck-thin`, `slot-narrow`, `prong-thin`, `piece-thin`.

    Raises `TooManyPairs` when the lines lie too densely to be measured.
    """
    boundary = boundary_of(piece.outline)
    reach = max(limits.least_bridge_mm, limits.least_web_mm, limits.kerf_mm)
    found = narrows(boundary, reach, budget)
    narrowest = np.argsort(found.width, kind="stable")[:_MOST_NARROWS]
    found = found.only(np.isin(np.arange(len(found.width)), narrowest))
    found = found.only(_is_wall(boundary, found))
    kinds = [_kind(boundary, found, index) for index in range(len(found.width))]
    least = {
        "bridge-thin": limits.least_bridge_mm,
        "web-thin": limits.least_web_mm,
        "neck-thin": limits.least_web_mm,
        "slot-narrow": limits.kerf_mm,
    }
    thin = _thin_regions(piece.outline, limits.least_web_mm)
    groups: dict[tuple[str, int, int], list[int]] = defaultdict(list)
    for index, kind in enumerate(kinds):
        if found.width[index] < least[kind] - SLACK_MM:
            rings = sorted(int(boundary.ring[each[index]]) for each in (found.one, found.other))
            groups[kind, rings[0], rings[1]].append(index)
    places = Places(found.middle, thin, reach)
    result: list[Finding] = []
    for (kind, _, _), members in groups.items():
        for index in places.narrowest(members, found.width):
            spot = _spot(boundary, found, members, index)
            result.append(_finding(piece, kind, spot, float(found.width[index]), least[kind]))
    result.sort(key=lambda finding: (finding.code, finding.value_mm or 0.0))
    walls = [finding for finding in result if finding.code != "slot-narrow"]
    return _few(result) + _prongs(piece, boundary, limits.least_web_mm, thin, walls)


def _is_wall(boundary: Boundary, found: Narrows) -> NDArray[np.bool_]:
    """Without short bumps, and without pairs that see each other only across another line."""
    same = boundary.ring[found.one] == boundary.ring[found.other]
    way = boundary.between(found.one, found.other, found.share)
    keep: NDArray[np.bool_] = ~same | (way > _STUB * found.width + 1e-6)
    if not len(keep):
        return keep
    lines: Any = shapely.linestrings(np.stack((found.start, found.end), axis=1))
    wider, narrower = boundary.polygon.buffer(1e-5), boundary.polygon.buffer(-1e-5)
    shapely.prepare(wider)
    shapely.prepare(narrower)
    inside = np.asarray(shapely.covers(wider, lines), dtype=np.bool_)
    outside = ~np.asarray(shapely.intersects(narrower, lines), dtype=np.bool_)
    return keep & np.where(found.metal, inside, outside)


def _kind(boundary: Boundary, found: Narrows, index: int) -> str:
    rings = {int(boundary.ring[found.one[index]]), int(boundary.ring[found.other[index]])}
    if not found.metal[index]:
        return "slot-narrow"
    if len(rings) == 1:
        return "neck-thin"
    return "web-thin" if 0 in rings else "bridge-thin"


def _thin_regions(outline: Polygon, least: float) -> list[BaseGeometry]:
    """Where no disc as wide as the limit fits: the piece less its opening by that disc."""
    radius = (least - SLACK_MM) / 2
    core = outline.buffer(-radius, quad_segs=16)
    opened = core.buffer(radius * 1.002 + 0.005, quad_segs=16)
    parts = shapely.get_parts(without(outline, opened))
    thin = [part for part in parts if part.area > 0.01]
    return sorted(thin, key=lambda part: -part.area)[:_MOST_REGIONS]


def _spot(
    boundary: Boundary, found: Narrows, members: list[int], index: int
) -> tuple[float, float]:
    """The middle of the narrow; half way along where both sides run side by side."""
    width, middle = float(found.width[index]), found.middle
    if found.metal[index] and width > 0.0:
        alike = [each for each in members if abs(found.width[each] - width) <= 1e-3]
        x, y = middle[alike].mean(axis=0)
        point = Point(x, y)
        room = boundary.polygon.boundary.distance(point)
        if boundary.polygon.contains(point) and abs(room - width / 2) <= 1e-3:
            return float(x), float(y)
    return float(middle[index, 0]), float(middle[index, 1])


def _finding(
    piece: Piece, kind: str, spot: tuple[float, float], value: float, limit: float
) -> Finding:
    message, mend = _WORDS[kind]
    return Finding(
        kind,
        Weight.STOP,
        message.format(value=told_mm(value, limit), limit=limit),
        mend,
        piece=piece.id,
        at=spot,
        value_mm=value,
        limit_mm=limit,
    )


def _prongs(
    piece: Piece,
    boundary: Boundary,
    least: float,
    thin: list[BaseGeometry],
    told: list[Finding],
) -> list[Finding]:
    """Thin ends that taper, which have no narrowest place; and pieces thin all over.

    Sharp points are left to the corner check.
    """
    points = [Point(finding.at) for finding in told if finding.at is not None]
    tips = [Point(x, y) for _, x, y in sharp_points(boundary)]
    radius = least / 2
    core = piece.outline.buffer(-radius + SLACK_MM)
    result: list[Finding] = []
    for part in thin:
        if not isinstance(part, Polygon):
            continue
        if any(part.distance(point) <= radius for point in points):
            continue
        circle = shapely.maximum_inscribed_circle(part, tolerance=0.01)
        value = min(2.0 * circle.length, least)
        x, y = circle.coords[0]
        if core.is_empty:
            result.append(_piece_thin(piece, x, y, value, least))
            break
        corners: Any = shapely.points(shapely.get_coordinates(part))
        length = float(np.max(shapely.distance(corners, core))) - radius
        if length <= _TIP * radius + 0.1 or any(part.distance(tip) <= SLACK_MM for tip in tips):
            continue
        result.append(
            Finding(
                "prong-thin",
                Weight.CAUTION,
                f"This end is long and thin: at most {told_mm(value, least)} mm wide over "
                f"{told_mm(length, places=1)} mm.",
                f"Make it shorter or at least {least:g} mm wide, or it bends while it is sawn.",
                piece=piece.id,
                at=(float(x), float(y)),
                value_mm=value,
                limit_mm=least,
            )
        )
    return result[:_MOST_PER_KIND]


def _piece_thin(piece: Piece, x: float, y: float, value: float, least: float) -> Finding:
    return Finding(
        "piece-thin",
        Weight.STOP,
        f"This piece is nowhere wider than {told_mm(value, least)} mm; {least:g} mm is asked.",
        "Make the whole piece wider, or larger.",
        piece=piece.id,
        at=(float(x), float(y)),
        value_mm=value,
        limit_mm=least,
    )


def _few(findings: list[Finding]) -> list[Finding]:
    kept: dict[str, int] = defaultdict(int)
    result = []
    for finding in findings:
        kept[finding.code] += 1
        if kept[finding.code] <= _MOST_PER_KIND:
            result.append(finding)
    return result
