"""The metal so far, while a recipe is followed step by step."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Final

import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, united, without
from studio.core.drawing import DrillKind

from .curves import CRUMB_MM2, areas, corners_of, moved_out, polygons
from .errors import RecipeError

MOST_CORNERS: Final = 30_000
MOST_HOLES: Final = 400
MOST_LINES: Final = 800
MOST_GROWN: Final = 2.5
PLACE_SLACK_MM: Final = 0.03  # above the limit, so that flattened curves do not fall below it

Move = Callable[[BaseGeometry], BaseGeometry]


@dataclass(frozen=True, slots=True)
class Hole:
    """A drilled hole that has its place."""

    x: float
    y: float
    diameter: float
    kind: DrillKind

    @property
    def point(self) -> Point:
        return Point(self.x, self.y)

    def moved(self, move: Move) -> Hole:
        at = move(self.point)
        assert isinstance(at, Point)
        return replace(self, x=float(at.x), y=float(at.y))


@dataclass(slots=True)
class Work:
    """`joined` is metal that grows together; `apart` are pieces that keep their own edges."""

    joined: BaseGeometry = field(default_factory=Polygon)
    apart: list[Polygon] = field(default_factory=list)
    holes: list[Hole] = field(default_factory=list)
    grown: float = 1.0  # how much flattened curves were scaled up
    lines: list[LineString] = field(default_factory=list)

    @property
    def pieces(self) -> list[Polygon]:
        return [*polygons(self.joined), *self.apart]

    @property
    def metal(self) -> BaseGeometry:
        return united([self.joined, *self.apart])

    def add(self, shapes: Iterable[BaseGeometry]) -> None:
        self.joined = areas(united([self.joined, *shapes]))
        self.refuse_too_much()

    def put_apart(self, shapes: Iterable[BaseGeometry], kerf_mm: float) -> None:
        """Pieces that keep their own edges take the place of the metal under them.

        Metal that lies under them also loses the width of the saw cut, so that the new pieces
        are as large as they are drawn; metal that only touches them keeps its edge.
        """
        new = [part for shape in shapes for part in polygons(shape)]
        taken = united(new)
        cut = moved_out(taken, kerf_mm)

        def room(piece: BaseGeometry) -> BaseGeometry:
            under = common(piece, taken)
            return without(piece, cut) if under.area > CRUMB_MM2 else piece

        self.each(room)
        self.apart += new
        self.refuse_too_much()

    def each(self, change: Move) -> None:
        """Change every piece of metal by itself."""
        self.joined = areas(change(self.joined))
        self.apart = [left for piece in self.apart for left in polygons(change(piece))]
        self.refuse_too_much()

    def drill(self, holes: Iterable[Hole]) -> None:
        self.holes += holes
        if len(self.holes) > MOST_HOLES:
            raise RecipeError(
                f"These are more than {MOST_HOLES} drill marks.", "Drill fewer of them."
            )

    def engrave(self, lines: Iterable[LineString]) -> None:
        self.lines += lines
        self.refuse_too_much()

    def multiply(self, moves: list[Move]) -> None:
        """All that is there, once for each of the moves."""
        self.refuse_too_much(len(moves))
        joined, apart = self.joined, self.apart
        holes, lines = self.holes, self.lines
        self.joined = areas(united(move(joined) for move in moves))
        self.apart = [part for move in moves for each in apart for part in polygons(move(each))]
        self.lines = [LineString(move(line).coords) for move in moves for line in lines]
        self.holes = []
        self.drill(_once(hole.moved(move) for move in moves for hole in holes))
        self.refuse_too_much()

    def grow(self, factor: float) -> None:
        """Refuse to scale flattened curves so far that their chords show."""
        self.grown *= factor
        if self.grown > MOST_GROWN:
            raise RecipeError(
                f"All together is scaled up more than {MOST_GROWN:g} times.",
                "Make the single shapes larger instead.",
            )

    def refuse_too_much(self, times: int = 1) -> None:
        corners = corners_of(self.joined) + sum(map(corners_of, self.apart))
        corners += sum(map(corners_of, self.lines))
        if corners * times > MOST_CORNERS or len(self.lines) * times > MOST_LINES:
            raise RecipeError(
                "This drawing becomes too detailed.", "Use fewer copies, or fewer letters."
            )
        if len(self.apart) * times > MOST_LINES:
            raise RecipeError(f"These are more than {MOST_LINES} pieces.", "Use fewer copies.")


def _once(holes: Iterable[Hole]) -> list[Hole]:
    """A hole on the mirror's own line is one hole."""
    found: list[Hole] = []
    for hole in holes:
        if all(math.dist((hole.x, hole.y), (one.x, one.y)) > 0.01 for one in found):
            found.append(hole)
    return found


def lawful_place(
    piece: Polygon,
    diameter: float,
    direction_deg: float,
    least_edge_mm: float,
    others: Iterable[Hole] = (),
) -> Point | None:
    """Where a hole lies as near the edge as is allowed, seen from the piece's middle.

    The farthest place on the ray in that direction that leaves `least_edge_mm` of metal to
    every edge and hole; where the ray meets no such place, the one nearest to that direction.
    None when the piece has no room for the hole anywhere.
    """
    room: BaseGeometry = piece.buffer(-(diameter / 2 + least_edge_mm + PLACE_SLACK_MM))
    for hole in others:
        away = (diameter + hole.diameter) / 2 + least_edge_mm + PLACE_SLACK_MM
        room = without(room, hole.point.buffer(away, quad_segs=32))
    if room.is_empty:
        return None
    angle = math.radians(direction_deg)
    towards = (math.cos(angle), math.sin(angle))
    x0, y0, x1, y1 = piece.bounds
    middle = Polygon(piece.exterior).centroid  # windows do not draw the hole aside
    far = 2.0 * math.hypot(x1 - x0, y1 - y0)
    start = float(middle.x), float(middle.y)
    ray = LineString([start, (start[0] + towards[0] * far, start[1] + towards[1] * far)])
    met = shapely.get_coordinates(room.intersection(ray))
    if not len(met):
        met = shapely.get_coordinates(room)
    along = met @ towards
    return Point(met[int(along.argmax())])


def around(count: int, centre: tuple[float, float]) -> list[Move]:
    def by(angle: float) -> Move:
        return lambda shape: affinity.rotate(shape, angle, origin=centre)

    return [_stay, *(by(360.0 * k / count) for k in range(1, count))]


def in_a_row(count: int, dx: float, dy: float) -> list[Move]:
    def by(times: int) -> Move:
        return lambda shape: affinity.translate(shape, times * dx, times * dy)

    return [by(k) for k in range(count)]


def mirrored(how: str, centre: tuple[float, float]) -> list[Move]:
    """The moves of a mirror: "none", "across", "down" or "both"."""

    def by(x: float, y: float) -> Move:
        return lambda shape: affinity.scale(shape, x, y, origin=centre)

    moves: list[Move] = [_stay]
    if how in ("across", "both"):
        moves.append(by(-1.0, 1.0))
    if how in ("down", "both"):
        moves.append(by(1.0, -1.0))
    if how == "both":
        moves.append(by(-1.0, -1.0))
    return moves


def _stay(shape: BaseGeometry) -> BaseGeometry:
    return shape
