"""Metal to be parted: its frame, and the rectangle in which blanks are packed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.cutting.job import Job, Parting, Stock
from studio.core.placing.rooms import room_of
from studio.core.placing.shapes import edges_left, polygonal

from .parts import Part, Region, sides_area

CELLS = 120  # across the longer side, where the largest rectangle is sought
SHRINK_MM = (0.0, 1e-6, 0.01, 0.3, 1.0, 2.5)
LEAST_MM = 3.0  # a rectangle narrower than this holds nothing

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Core:
    """A rectangle of metal in which blanks are packed, upright in a frame.

    A frame is the stock piece turned by −`turn_deg` about its origin. `rim` says how far metal
    reaches beyond the rectangle on each side: where pieces keep more from the metal's edge than
    from a cut, the rectangle is that much smaller than the metal.
    """

    stock: int
    part: Part
    turn_deg: float
    box: Bounds
    rim: float

    @property
    def wide(self) -> float:
        return self.box[2] - self.box[0]

    @property
    def high(self) -> float:
        return self.box[3] - self.box[1]


def main_turn(region: Region) -> float:
    """The direction (modulo 90°) in which most of an outline's length runs."""
    edges = edges_left(region)
    dx, dy = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
    length = np.hypot(dx, dy)
    turns = np.round(np.degrees(np.arctan2(dy, dx)) % 90.0, 6) % 90.0
    weight: dict[float, float] = {}
    for k in np.argsort(-length, kind="stable")[:200].tolist():
        near = next((a for a in weight if abs(a - turns[k]) < 0.02), float(turns[k]))
        weight[near] = weight.get(near, 0.0) + float(length[k])
    return max(weight, key=lambda a: weight[a]) if weight else 0.0


def usable(job: Job, parting: Parting, stock: Stock, part: Part) -> Region:
    """Where blanks may be packed: pieces keep the margin from its rim as from a cut."""
    soft = room_of(job, stock).soft
    soft = sides_area(part.sides, soft, parting.margin_mm) if part.sides else soft
    return polygonal(soft.buffer(parting.margin_mm, join_style="mitre"))


def core_of(job: Job, parting: Parting, index: int, part: Part) -> Core | None:
    """The largest rectangle of a part along its main direction; None where there is hardly any."""
    stock = job.metal[index]
    region = usable(job, parting, stock, part)
    best: Core | None = None
    for component in shapely.get_parts(region):
        turn = main_turn(part.region)
        flat = affinity.rotate(component, -turn, origin=(0.0, 0.0))
        found = largest_box(flat)
        if found is None or min(found[2] - found[0], found[3] - found[1]) < LEAST_MM:
            continue
        core = Core(index, part, turn, found, _rim(part, turn, found))
        if best is None or core.wide * core.high > best.wide * best.high:
            best = core
    return best


def _rim(part: Part, turn: float, found: Bounds) -> float:
    """How far the part reaches beyond a rectangle, where that is the same on all sides; else 0,
    which is on the safe side for no rule, so that every cut is tried on the metal itself."""
    x0, y0, x1, y1 = affinity.rotate(part.region, -turn, origin=(0.0, 0.0)).bounds
    outs = (found[0] - x0, found[1] - y0, x1 - found[2], y1 - found[3])
    return outs[0] if max(outs) - min(outs) < 0.01 else 0.0


def largest_box(region: Polygon) -> Bounds | None:
    """A large upright rectangle in a region: the region's own box where it is one, else from a
    raster, made sure by exact geometry."""
    x0, y0, x1, y1 = region.bounds
    if region.area >= (x1 - x0) * (y1 - y0) * (1.0 - 1e-9):
        return region.bounds
    xs, ys = _lines(region, 0), _lines(region, 1)
    if len(xs) < 2 or len(ys) < 2:
        return None
    shapely.prepare(region)
    left, low = np.meshgrid(xs[:-1], ys[:-1])
    right, high = np.meshgrid(xs[1:], ys[1:])
    inset = 1e-7
    cells = shapely.box(left + inset, low + inset, right - inset, high - inset)
    free = shapely.covers(region, cells)
    found = _largest(free, xs, ys)
    if found is None:
        return None
    for shrink in SHRINK_MM:
        tight = box(*found).buffer(-shrink, join_style="mitre") if shrink else box(*found)
        if isinstance(tight, Polygon) and not tight.is_empty and region.covers(tight):
            return tight.bounds
    return None


def _lines(region: Polygon, axis: int) -> npt.NDArray[np.float64]:
    corners = np.unique(np.round(shapely.get_coordinates(region.simplify(0.3))[:, axis], 6))
    low, high = region.bounds[axis], region.bounds[axis + 2]
    even = np.linspace(low, high, CELLS // 2)
    if len(corners) > CELLS:
        corners = corners[np.linspace(0, len(corners) - 1, CELLS).astype(int)]
    both = np.unique(np.concatenate([corners, even]))
    both = both[(both >= low) & (both <= high)]
    keep = [float(both[0])]
    keep.extend(float(v) for v in both[1:] if v - keep[-1] > 1e-4)
    return np.array(keep)


def _largest(
    free: npt.NDArray[np.bool_], xs: npt.NDArray[np.float64], ys: npt.NDArray[np.float64]
) -> Bounds | None:
    """The largest rectangle of free cells, by rows: how far each column reaches down."""
    best, found = 0.0, None
    bottoms = np.full(free.shape[1], 0)
    for row in range(free.shape[0]):
        bottoms = np.where(free[row], bottoms, row + 1)
        top = ys[row + 1]
        stack: list[tuple[int, int]] = []  # first column, row from which all is free
        for column in range(free.shape[1] + 1):
            here = int(bottoms[column]) if column < free.shape[1] else row + 1
            begin = column
            while stack and stack[-1][1] < here:
                begin, from_row = stack.pop()
                area = (xs[column] - xs[begin]) * (top - ys[from_row])
                if area > best:
                    best = float(area)
                    found = (float(xs[begin]), float(ys[from_row]), float(xs[column]), float(top))
            if not stack or stack[-1][1] > here:
                stack.append((begin, here))
    return found


__all__ = ["Core", "core_of", "largest_box", "main_turn", "usable"]
