"""Takes photos of true pieces of metal that lie in the printed capture frame.

The metal has a thickness, so the camera sees its upper face nearer than the paper and some of
its sides; it shines where it mirrors the light, is scratched, and throws a shadow. Reflectances
and shadows are made up; they are no measurements of any metal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.affinity import rotate, translate
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.reading.frame import CLEAR_MM, Frame

from .photographing import Standing, standing

Plane = NDArray[np.float32]
Picture = NDArray[np.uint8]
Points = NDArray[np.float64]

PAPER = (236.0, 238.0, 242.0)
COLOURS: dict[str, tuple[float, float, float]] = {
    "copper": (192.0, 124.0, 96.0),
    "brass": (196.0, 172.0, 102.0),
    "dull nickel silver": (150.0, 148.0, 140.0),
    "bright aluminium": (196.0, 199.0, 204.0),
}
_FINE = 12.0
_AROUND_MM = 12.0
_TABLE = 70.0


@dataclass(frozen=True, slots=True)
class Light:
    """`shadow` is how much light the shadow loses, `soft_mm` how gradually it ends; `glare`
    how many places mirror the light; `grind` how strong the brushed texture is."""

    shadow: float = 0.25
    soft_mm: float = 0.5
    low_deg: float = 45.0
    glare: int = 0
    grind: float = 5.0
    fall: float = 0.25
    noise: float = 4.0


@dataclass(frozen=True, slots=True)
class View:
    tilt_deg: float = 6.0
    turn_deg: float = 0.0
    k1: float = -0.05
    megapixels: float = 6.0


def random_metal(seed: int, width_mm: float = 120.0, height_mm: float = 160.0) -> Polygon:
    """What is left of a sheet: bites sawn out of its edges, often a cut-out, sometimes holes.

    Millimetres, y upwards, within the given box.
    """
    chance = np.random.default_rng(seed)
    wide, high = chance.uniform(40, width_mm - 20), chance.uniform(40, height_mm - 30)
    metal = box(-wide / 2, -high / 2, wide / 2, high / 2)
    for _ in range(int(chance.integers(0, 4))):
        side = float(chance.uniform(0, math.tau))
        at = Point(math.cos(side) * wide / 2, math.sin(side) * high / 2)
        left = metal.difference(_bite(chance, at, float(chance.uniform(6, 16))))
        metal = _largest(left)
    for _ in range(int(chance.integers(0, 3))):
        spot = Point(chance.uniform(-wide / 3, wide / 3), chance.uniform(-high / 3, high / 3))
        cut = _bite(chance, spot, float(chance.uniform(3, 11)))
        if metal.buffer(-3.0).contains(cut):
            metal = _largest(metal.difference(cut))
    for _ in range(int(chance.integers(0, 3))):
        spot = Point(chance.uniform(-wide / 2, wide / 2), chance.uniform(-high / 2, high / 2))
        hole = spot.buffer(float(chance.uniform(1.0, 2.0)), quad_segs=24)
        if metal.buffer(-2.0).contains(hole):
            metal = _largest(metal.difference(hole))
    # No saw leaves an inward corner sharper than its blade, and no bridge thinner than a hair.
    metal = metal.buffer(-0.6).buffer(0.6, join_style="mitre", mitre_limit=3.0)
    metal = _largest(metal)
    # Slits narrower than a reader looks for are left out.
    metal = _largest(
        metal.buffer(0.9, join_style="mitre").buffer(-0.9, join_style="mitre", mitre_limit=3.0)
    )
    metal = rotate(metal, float(chance.uniform(-20, 20)), origin=(0, 0))
    x0, y0, x1, y1 = metal.bounds
    found: Polygon = translate(metal, (width_mm - x1 - x0) / 2, (height_mm - y1 - y0) / 2)
    return found


def _largest(shape: BaseGeometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: float(part.area))


def _bite(chance: Generator, at: Point, reach: float) -> Polygon:
    kind = str(chance.choice(["round", "corners", "leaf"]))
    if kind == "round":
        return at.buffer(reach * 0.8, quad_segs=32)
    if kind == "corners":
        sides = int(chance.integers(3, 7))
        turn = np.sort(chance.uniform(0, math.tau, sides))
        return Polygon(
            [(at.x + reach * math.cos(a), at.y + reach * math.sin(a)) for a in turn]
        ).buffer(0.3)
    one = translate(at, reach * 0.5).buffer(reach * 0.8, quad_segs=32)
    other = translate(at, -reach * 0.5).buffer(reach * 0.8, quad_segs=32)
    return _largest(one.intersection(other))


def photographed_metal(
    frame: Frame,
    metal: Polygon,
    *,
    colour: str = "copper",
    thickness_mm: float = 0.8,
    light: Light | None = None,
    view: View | None = None,
    seed: int = 0,
) -> Picture:
    """The photo, (height, width, 3) red first. `metal` lies in the frame's own millimetres."""
    light, view = light or Light(), view or View()
    chance = np.random.default_rng(seed + 321)
    long = round(math.sqrt(view.megapixels * 1e6 * 4 / 3))
    high, wide = long, round(long * 3 / 4)
    focal = 0.8 * long
    placing = standing(chance, frame, view, (wide, high), focal)
    lays = _Lays(frame, wide, high, focal, view.k1, placing)
    blur = placing[2] / focal * _FINE * 0.45
    mask = _mask(frame, metal)
    paper = _paper(frame, metal, light, thickness_mm, chance)
    faces = _face(mask, colour, light, chance)
    upper = lays.seen(_blurred(np.dstack((faces, mask)), blur), thickness_mm)
    face, top = upper[..., :3], upper[..., 3:]
    lower = lays.seen(_blurred(np.dstack((paper, mask)), blur), 0.0, _TABLE)
    middle = lays.seen(_blurred(mask, blur), thickness_mm / 2)[..., None]
    side = np.maximum(lower[..., 1:], middle)
    y, x = np.mgrid[-0.5 : 0.5 : high * 1j, -0.5 : 0.5 : wide * 1j].astype(np.float32)
    turn = float(chance.uniform(0, math.tau))
    fallen = 1.0 - light.fall * (0.5 + x * math.cos(turn) + y * math.sin(turn))
    wall = float(chance.uniform(0.35, 0.75)) * np.array(COLOURS[colour], dtype=np.float32)
    below = lower[..., :1] * np.array(PAPER, dtype=np.float32)
    out = (face * top + (below * (1 - side) + wall * side) * (1 - top)) * fallen[..., None]
    out += chance.normal(0, light.noise, out.shape).astype(np.float32)
    shot: Picture = np.clip(out, 0, 255).astype(np.uint8)
    return shot


@dataclass(slots=True)
class _Lays:
    """Looks up, for every dot of the photo, what lies there at some height above the paper."""

    frame: Frame
    wide: int
    high: int
    focal: float
    k1: float
    placing: Standing

    def seen(self, page: Plane, height_mm: float, around: float = 0.0) -> Plane:
        rotation, middle, _ = self.placing
        back = np.linalg.inv(
            np.column_stack((rotation[:, 0], rotation[:, 1], middle - height_mm * rotation[:, 2]))
        )
        out = np.empty((self.high, self.wide, *page.shape[2:]), dtype=np.float32)
        px = np.arange(self.wide) - (self.wide - 1) / 2
        rim = self.frame.border_mm + _AROUND_MM
        for first in range(0, self.high, 400):
            rows = np.arange(first, min(first + 400, self.high)) - (self.high - 1) / 2
            grid = np.stack(np.meshgrid(px, rows), axis=-1) / self.focal
            straight = grid.copy()
            for _ in range(6):
                straight = grid / (1 + self.k1 * (straight**2).sum(axis=-1, keepdims=True))
            rays = np.dstack((straight, np.ones(straight.shape[:2]))) @ back.T
            mm = rays[..., :2] / rays[..., 2:]
            out[first : first + len(rows)] = cv2.remap(
                page,
                ((mm[..., 0] + self.frame.width_mm / 2 + rim) * _FINE - 0.5).astype(np.float32),
                ((mm[..., 1] + self.frame.height_mm / 2 + rim) * _FINE - 0.5).astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
                borderValue=(around / PAPER[0], 0, 0, 0),
            )
        return out


def _blurred(page: Plane, blur: float) -> Plane:
    found: Plane = cv2.GaussianBlur(page, (0, 0), max(0.4, blur))
    return found


def _blank(frame: Frame, value: float) -> Plane:
    rim = frame.border_mm + _AROUND_MM
    size = round((frame.height_mm + 2 * rim) * _FINE), round((frame.width_mm + 2 * rim) * _FINE)
    return np.full(size, value, dtype=np.float32)


def _mask(frame: Frame, metal: Polygon) -> Plane:
    """1 on metal; rows run down the page."""
    fine = np.zeros(_blank(frame, 0).shape, dtype=np.uint8)
    rim = frame.border_mm + _AROUND_MM
    rings = []
    # OpenCV draws the border of a filled shape too: half a dot on all sides.
    drawn = metal.buffer(-0.5 / _FINE, join_style="mitre")
    for ring in (drawn.exterior, *drawn.interiors):
        points = np.array(ring.coords)
        x = (points[:, 0] + rim) * _FINE - 0.5
        y = (frame.height_mm - points[:, 1] + rim) * _FINE - 0.5
        rings.append(np.rint(np.stack((x, y), axis=1) * 64).astype(np.int32).reshape(-1, 1, 2))
    cv2.fillPoly(fine, rings, 255, cv2.LINE_AA, 6)
    return np.asarray(fine, dtype=np.float32) / np.float32(255)


def _paper(
    frame: Frame, metal: Polygon, light: Light, thickness: float, chance: Generator
) -> Plane:
    """How much of the light the paper throws back, with the frame's markers and the shadow."""
    page = _blank(frame, 1.0)
    rim = frame.border_mm + _AROUND_MM

    def square(x: float, y: float, side: float, value: float) -> None:
        left, top = round((x + rim) * _FINE), round((frame.height_mm - y - side + rim) * _FINE)
        page[top : top + round(side * _FINE), left : left + round(side * _FINE)] = value

    for marker in frame.markers:
        square(marker.x_mm, marker.y_mm, frame.border_mm - CLEAR_MM, 0.1)
        for x, y, side in marker.white_modules:
            square(x, y, side, 1.0)
    if light.shadow > 0:
        turn = float(chance.uniform(0, math.tau))
        reach = thickness / math.tan(math.radians(light.low_deg))
        dark = np.zeros_like(page)
        for share in (0.25, 0.5, 0.75, 1.0):
            moved = translate(metal, reach * share * math.cos(turn), reach * share * math.sin(turn))
            dark = np.maximum(dark, _mask(frame, moved))
        page *= 1.0 - light.shadow * _blurred(dark, max(0.05, light.soft_mm / 2) * _FINE)
    return page


def _face(mask: Plane, colour: str, light: Light, chance: Generator) -> Plane:
    """The upper face, (height, width, 3): ground, scratched, mirroring here and there."""
    high, wide = mask.shape
    grind = cv2.resize(
        chance.normal(0, 1, (high // 3, max(2, wide // 90))).astype(np.float32), (wide, high)
    )
    y, x = np.mgrid[0 : 1 : high * 1j, 0 : 1 : wide * 1j].astype(np.float32)
    turn = float(chance.uniform(0, math.tau))
    shade = 1.0 + 0.25 * ((x - 0.5) * math.cos(turn) + (y - 0.5) * math.sin(turn))
    spots = np.argwhere(mask[::50, ::50] > 0.9) * 50
    shine = np.zeros_like(mask)
    for _ in range(light.glare):
        spot = spots[int(chance.integers(0, len(spots)))]
        long, thin = float(chance.uniform(4, 14)), float(chance.uniform(2.5, 5))
        far_y, far_x = (y * high - spot[0]) / _FINE, (x * wide - spot[1]) / _FINE
        way = float(chance.uniform(0, math.tau))
        along = far_x * math.cos(way) + far_y * math.sin(way)
        across = -far_x * math.sin(way) + far_y * math.cos(way)
        shine += 1.5 * np.exp(-((along / long) ** 2) - (across / thin) ** 2)
    shine = np.minimum(shine, 1.0)
    scratched = np.zeros(mask.shape, dtype=np.uint8)
    for _ in range(6):
        spot = spots[int(chance.integers(0, len(spots)))]
        way, length = float(chance.uniform(0, math.tau)), float(chance.uniform(4, 25)) * _FINE
        end = int(spot[1] + length * math.cos(way)), int(spot[0] + length * math.sin(way))
        cv2.line(scratched, (int(spot[1]), int(spot[0])), end, 255, 3, cv2.LINE_AA)
    bright = scratched.astype(np.float32) / 255 * 0.6
    base = np.array(COLOURS[colour], dtype=np.float32)
    face = (base + light.grind * grind[..., None]) * shade[..., None]
    shown: Plane = (face + (255.0 - face) * np.maximum(shine, bright)[..., None]).astype(np.float32)
    return shown
