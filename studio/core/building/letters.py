"""Letters as areas, from the packaged open font Manrope (SIL Open Font License 1.1)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united, without

from .curves import TOLERANCE_MM, Point, areas, polygons
from .errors import RecipeError

FONT: Final = ("font_manrope", "files", "Manrope-ExtraBold.ttf")
_HAIR_MM: Final = 0.01
_SPACE: Final = 0.28  # of the font's unit, where the font says nothing

Contour = tuple[tuple[str, tuple[Point, ...]], ...]


def letters(text: str, height_mm: float, spacing_percent: float = 0.0) -> MultiPolygon:
    """The letters side by side, capitals `height_mm` high, middle of their box at (0, 0).

    `spacing_percent` of the height is added after each letter. Raises RecipeError for a sign
    that the font does not have, naming it.
    """
    font = _font()
    missing = sorted({sign for sign in text if sign != " " and sign not in font})
    if missing:
        raise RecipeError(
            f"There is no letter for “{missing[0]}” here.",
            "Use other letters: Latin, Greek and Cyrillic ones are there, and digits.",
        )
    scale = height_mm / font.capital
    pen, laid = 0.0, []
    for sign in text:
        laid.append(affinity.translate(_area(sign, scale), pen, 0.0))
        pen += font.advance(sign) * scale + spacing_percent / 100 * height_mm
    # Signs that overlap become one area.
    whole = areas(united(laid))
    if whole.is_empty:
        raise RecipeError("These letters are all empty.", "Type at least one letter.")
    x0, y0, x1, y1 = whole.bounds
    centred = list(polygons(affinity.translate(whole, -(x0 + x1) / 2, -(y0 + y1) / 2)))
    centred.sort(key=lambda letter: float(letter.bounds[0]))
    return MultiPolygon(centred)


def bridged(letter_area: BaseGeometry, width_mm: float) -> MultiPolygon:
    """Letters to be cut away, with upright bridges that hold the middles of o, A, B and so on.

    Each middle keeps the strip of metal above and below it, `width_mm` wide, as far as the
    outside or the next middle.
    """
    result: list[Polygon] = []
    for letter in polygons(letter_area):
        left: BaseGeometry = letter
        low, high = letter.bounds[1] - 1.0, letter.bounds[3] + 1.0
        for ring in letter.interiors:
            middle = Polygon(ring)
            at = middle.representative_point().x
            halfway = (middle.bounds[0] + middle.bounds[2]) / 2
            at = halfway if middle.intersects(_upright(halfway, low, high)) else at
            strip = box(at - width_mm / 2, low, at + width_mm / 2, high)
            for crossing in polygons(letter.intersection(strip)):
                if crossing.distance(middle) < 1e-6:
                    # A box a hair higher than the crossing leaves no spikes along its curves.
                    x0, y0, x1, y1 = crossing.bounds
                    left = without(left, box(x0, y0 - _HAIR_MM, x1, y1 + _HAIR_MM))
        result += polygons(left)
    return MultiPolygon(result)


def _upright(x: float, low: float, high: float) -> BaseGeometry:
    return shapely.LineString([(x, low), (x, high)])


class _Font:
    """Outlines of one font file, in its own units."""

    def __init__(self, path: str) -> None:
        from fontTools.ttLib import TTFont

        self._font: Any = TTFont(path)
        self._names: dict[int, str] = self._font.getBestCmap()
        self._glyphs: Any = self._font.getGlyphSet()
        self.capital = float(self._font["OS/2"].sCapHeight)

    def __contains__(self, sign: str) -> bool:
        return ord(sign) in self._names

    def advance(self, sign: str) -> float:
        if sign not in self:
            return _SPACE * float(self._font["head"].unitsPerEm)
        return float(self._glyphs[self._names[ord(sign)]].width)

    def contours(self, sign: str) -> tuple[Contour, ...]:
        from fontTools.pens.recordingPen import DecomposingRecordingPen

        if sign not in self:
            return ()
        pen = DecomposingRecordingPen(self._glyphs)
        self._glyphs[self._names[ord(sign)]].draw(pen)
        found: list[Contour] = []
        open_one: list[tuple[str, tuple[Point, ...]]] = []
        for verb, points in pen.value:
            if verb in ("closePath", "endPath"):
                found.append(tuple(open_one))
                open_one = []
            else:
                open_one.append((verb, tuple(points)))
        return tuple(found)


@lru_cache(maxsize=1)
def _font() -> _Font:
    return _Font(str(resources.files(FONT[0]).joinpath(*FONT[1:])))


@lru_cache(maxsize=512)
def _contours(sign: str) -> tuple[Contour, ...]:
    return _font().contours(sign)


def _area(sign: str, scale: float) -> BaseGeometry:
    """Filled as fonts are: all that the contours go round more often one way than the other.

    Contours may cross themselves and each other, so the plane is first cut along all of them.
    """
    rings = []
    for contour in _contours(sign):
        points = [(x * scale, y * scale) for x, y in _flat(contour, TOLERANCE_MM / scale)]
        if len(points) > 2:
            rings.append(np.array([*points, points[0]]))
    if not rings:
        return Polygon()
    lines = shapely.union_all([shapely.LineString(ring) for ring in rings])
    faces = shapely.polygonize([lines]).geoms
    return united(
        [
            face
            for face in faces
            if isinstance(face, Polygon) and _times_round(face.representative_point(), rings)
        ]
    )


def _times_round(point: shapely.Point, rings: list[NDArray[np.float64]]) -> int:
    """How often the rings go round the point, anticlockwise counted positive."""
    total = 0
    for ring in rings:
        x, y = ring[:, 0] - point.x, ring[:, 1] - point.y
        low, high = y[:-1] <= 0, y[1:] <= 0
        side = x[:-1] * y[1:] - x[1:] * y[:-1]
        total += int(np.sum(low & ~high & (side > 0))) - int(np.sum(~low & high & (side < 0)))
    return total


def _flat(contour: Contour, tolerance: float) -> Iterator[Point]:
    at: Point = (0.0, 0.0)
    for verb, points in contour:
        if verb == "qCurveTo":
            from fontTools.pens.basePen import decomposeQuadraticSegment

            for control, end in decomposeQuadraticSegment(points):
                yield from _quadratic(at, control, end, tolerance)
                at = end
        else:  # moveTo and lineTo; a font of this kind has no other curves
            at = points[-1]
            yield at


def _quadratic(start: Point, control: Point, end: Point, tolerance: float) -> Iterator[Point]:
    """Even steps: the chord of each lies off the curve by |second difference| / (4 n^2)."""
    second = math.hypot(start[0] - 2 * control[0] + end[0], start[1] - 2 * control[1] + end[1])
    count = max(1, math.ceil(math.sqrt(second / (4 * tolerance))))
    for k in range(1, count + 1):
        t = k / count
        a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
        yield (
            a * start[0] + b * control[0] + c * end[0],
            a * start[1] + b * control[1] + c * end[1],
        )
