"""Puts a true drawing on paper as ink, and the paper through a scanner.

Everything is drawn much finer than it is scanned, then made smaller, as a scanner does.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.affinity import rotate
from shapely.geometry import LineString, MultiLineString, Polygon

from .truth import TrueDrawing, TrueWindow

Plane = NDArray[np.float32]
Points = NDArray[np.float64]

_SHIFT = 6
INK, GREY, PENCIL = 28, 165, 190


def paper_with(
    drawing: TrueDrawing, px_per_mm: float, *, seed: int = 0, pencil: bool = True
) -> NDArray[np.uint8]:
    """The drawing on white paper, evenly lit and sharp; rows run down the page."""
    chance = np.random.default_rng(seed + 77)
    high, wide = round(drawing.height_mm * px_per_mm), round(drawing.width_mm * px_per_mm)
    page = np.full((high, wide), 245, dtype=np.uint8)
    draw = Pen(page, px_per_mm, drawing.height_mm)
    if pencil:
        for _ in range(4):
            ends = chance.uniform(0, 1, (2, 2)) * [drawing.width_mm, drawing.height_mm]
            draw.line(ends, False, 0.3, PENCIL)
    for piece in drawing.pieces:
        for window in piece.windows:
            _shade(draw, window, drawing.pen_mm, chance)
            if window.shading != "black":
                draw.line(window.points, True, drawing.pen_mm, INK)
        draw.line(piece.outline, True, drawing.pen_mm, INK)
        for points, closed in piece.lines:
            draw.line(points, closed, drawing.pen_mm, INK)
        for mark in piece.marks:
            spot = np.array([mark.x_mm, mark.y_mm])
            if mark.cross:
                for across in (np.array([1.0, 0.2]), np.array([-0.2, 1.0])):
                    arm = across / np.hypot(*across) * mark.diameter_mm * 0.6
                    draw.line(np.array([spot - arm, spot + arm]), False, drawing.pen_mm, INK)
            else:
                turn = np.linspace(0, math.tau, 120, endpoint=False)
                rim = spot + mark.diameter_mm / 2 * np.stack((np.cos(turn), np.sin(turn)), axis=1)
                draw.line(rim, True, drawing.pen_mm, INK)
    return page


@dataclass(slots=True)
class Pen:
    page: NDArray[np.uint8]
    px_per_mm: float
    height_mm: float

    def dots(self, points: Points) -> NDArray[np.int32]:
        """Fixed-point coordinates; OpenCV's whole numbers are the middles of dots."""
        x = points[:, 0] * self.px_per_mm - 0.5
        y = (self.height_mm - points[:, 1]) * self.px_per_mm - 0.5
        fixed: NDArray[np.int32] = np.rint(np.stack((x, y), axis=1) * 2**_SHIFT).astype(np.int32)
        return fixed.reshape(-1, 1, 2)

    def area(self, points: Points, grey: int) -> None:
        cv2.fillPoly(self.page, [self.dots(points)], grey, cv2.LINE_AA, _SHIFT)

    def line(self, points: Points, closed: bool, width_mm: float, grey: int) -> None:
        """As filled polygons, because OpenCV's thick lines are whole dots wide."""
        drawn = Polygon(points).exterior if closed else LineString(points)
        inked = drawn.buffer(width_mm / 2, quad_segs=16, join_style="round")
        for part in getattr(inked, "geoms", [inked]):
            rings = [part.exterior, *part.interiors]
            cv2.fillPoly(
                self.page,
                [self.dots(np.array(ring.coords)) for ring in rings],
                grey,
                cv2.LINE_AA,
                _SHIFT,
            )


def _shade(draw: Pen, window: TrueWindow, pen: float, chance: Generator) -> None:
    area = Polygon(window.points)
    if window.shading == "grey":
        draw.area(window.points, GREY)
    elif window.shading == "black":
        draw.area(window.points, INK)
    else:
        turns = [45.0] if window.shading == "hatched" else [40.0, 130.0]
        apart = float(chance.uniform(0.8, 1.2)) + pen / 2
        start = float(chance.uniform(-10, 10))
        # Some students stop their hatching short of the line.
        inside = area.buffer(-float(chance.choice([0.0, pen / 2 + 0.4])))
        for turn in turns:
            x0, y0, x1, y1 = area.bounds
            reach = math.hypot(x1 - x0, y1 - y0)
            middle = area.centroid
            rows = [
                LineString([(middle.x - reach, y), (middle.x + reach, y)])
                for y in np.arange(middle.y - reach, middle.y + reach, apart)
            ]
            fan = rotate(MultiLineString(rows), turn + start, origin=(middle.x, middle.y))
            found = fan.intersection(inside)
            for row in getattr(found, "geoms", [found]):
                if isinstance(row, LineString) and row.length > 0.3:
                    draw.line(np.array(row.coords), False, pen * 0.8, INK)


def scanned(
    drawing: TrueDrawing,
    *,
    dpi: float = 300.0,
    seed: int = 0,
    finger: bool = True,
    pencil: bool = True,
) -> NDArray[np.uint8]:
    """What a flatbed scanner makes of it: slightly uneven light, grain, a thumb at the rim."""
    chance = np.random.default_rng(seed + 99)
    fine = 4
    page = paper_with(drawing, dpi / 25.4 * fine, seed=seed, pencil=pencil)
    high, wide = round(drawing.height_mm * dpi / 25.4), round(drawing.width_mm * dpi / 25.4)
    grey = cv2.resize(page, (wide, high), interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(grey, (0, 0), 0.5).astype(np.float32)
    return grained(lit(grey, chance, 0.12, finger), chance, 3.0)


def lit(grey: Plane, chance: Generator, fall: float, finger: bool) -> Plane:
    """Light that falls off across the sheet, and a finger lying over its border."""
    high, wide = grey.shape
    y, x = np.mgrid[0 : 1 : high * 1j, 0 : 1 : wide * 1j].astype(np.float32)
    turn = chance.uniform(0, math.tau)
    slope = (x - 0.5) * math.cos(turn) + (y - 0.5) * math.sin(turn)
    spot = chance.uniform(0.2, 0.8, 2)
    far = (x - spot[0]) ** 2 + (y - spot[1]) ** 2
    light = 1.0 - fall * (0.5 + slope) - 0.7 * fall * far
    out: Plane = grey * light
    if finger:
        side = int(chance.integers(0, 2))
        middle = (0 if side else wide, int(chance.uniform(0.1, 0.3) * high))
        shape = np.zeros_like(out)
        cv2.ellipse(shape, middle, (wide // 40, high // 12), 0, 0, 360, 1.0, -1)
        shape = cv2.GaussianBlur(shape, (0, 0), 2.0)
        out = out * (1 - 0.55 * shape)
    return out


def grained(grey: Plane, chance: Generator, noise: float) -> NDArray[np.uint8]:
    """Paper grain over a few dots, and the noise of single ones."""
    coarse = chance.normal(0, 1, (grey.shape[0] // 3 + 1, grey.shape[1] // 3 + 1))
    grain = cv2.resize(coarse.astype(np.float32), (grey.shape[1], grey.shape[0]))
    noisy = grey + 1.5 * grain + chance.normal(0, noise, grey.shape).astype(np.float32)
    clipped: NDArray[np.uint8] = np.clip(noisy, 0, 255).astype(np.uint8)
    return clipped


def file_of(grey: NDArray[np.uint8], kind: str = "PNG", **options: object) -> bytes:
    """The picture as a file; `dpi=(300, 300)` and `quality=80` as Pillow takes them."""
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(grey).save(kept, kind, **options)
    return kept.getvalue()
