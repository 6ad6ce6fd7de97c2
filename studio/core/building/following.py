"""Following a recipe: from steps to the lines of a drawing."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, united, without
from studio.core.drawing import DrillKind, Limits
from studio.core.writing.sheet import Sheet

from . import tilings
from .curves import areas, corners_of, framed, polygons, rounded
from .errors import RecipeError
from .fields import Role
from .lines import draw
from .one_step import laid, laid_back, moves_of, outline_of, place_of, stroke_of
from .recipe import Recipe, Step
from .shapes import disc, rectangle
from .work import (
    MOST_CORNERS,
    Hole,
    Move,
    Work,
    around,
    lawful_place,
    mirrored,
)


@dataclass(frozen=True, slots=True)
class Shown:
    """How one step looks by itself: its first copy, and all others. Empty for steps for it all.

    `at` is the point about which it is turned and sized by hand.
    """

    own: BaseGeometry
    copies: BaseGeometry
    at: tuple[float, float]


@dataclass(slots=True)
class Built:
    """What came of a recipe: the drawing's lines by layer, each step's own look, and remarks.

    A remark says in words why a step changes nothing or not what was asked; it never stops.
    """

    sheet: Sheet
    kerf_mm: float = 0.0
    shown: dict[str, Shown] = field(default_factory=dict)
    remarks: dict[str, str] = field(default_factory=dict)


def build(recipe: Recipe, limits: Limits | None = None, title: str = "Built from shapes") -> Built:
    """Follow every step. `limits` give the lawful distance of holes. Raises RecipeError."""
    asked = limits or Limits()
    built = Built(Sheet(title), asked.kerf_mm)
    work = Work()
    waiting: list[Step] = []
    for step in recipe:
        try:
            if step.kind.of == "all":
                _place_holes(waiting, work, asked, built)
                _change_all(step, work, built)
            elif step.kind.of == "hole":
                if step.text("found") == "edge":
                    waiting.append(step)  # until the metal around it is done
                else:
                    _drill_here(step, work, built)
            else:
                _do(step, work, built)
        except RecipeError as error:
            error.step = error.step or step.id
            raise
        except (shapely.GEOSException, ValueError) as error:
            raise RecipeError(
                f"{step.kind.label}: this cannot be worked out.",
                "Change its numbers a little.",
                step.id,
            ) from error
    _place_holes(waiting, work, asked, built)
    _tell_lost(work, draw(work, built.sheet), built)
    return built


def _do(step: Step, work: Work, built: Built) -> None:
    """A shape, tiles or an engraved line."""
    if step.kind.name == "tiling":
        _tile(step, work, built)
        return
    moves = moves_of(step)
    if step.kind.name == "stroke":
        line = laid(step, stroke_of(step))
        built.shown[step.id] = _shown(step, line, moves)
        work.engrave(LineString(move(line).coords) for move in moves)
        return
    own = laid(step, outline_of(step))
    if own.is_empty:
        built.remarks[step.id] = "Nothing is left of it: its corners or frame are too large."
        built.shown[step.id] = _shown(step, Point(place_of(step)).buffer(1.0), moves[:1])
        return
    if corners_of(own) * len(moves) > MOST_CORNERS:
        raise RecipeError("This drawing becomes too detailed.", "Use fewer copies.")
    built.shown[step.id] = _shown(step, own, moves)
    placed = [move(own) for move in moves]
    role = step.text("role")
    if role == Role.METAL and step.text("joins") == "apart":
        work.put_apart(placed, built.kerf_mm)
    elif role == Role.METAL:
        work.add(placed)
    elif role == Role.LINE:
        work.engrave(
            LineString(ring.coords)
            for shape in placed
            for each in polygons(shape)
            for ring in (each.exterior, *each.interiors)
        )
    else:
        _cut(step, role, united(placed), work, built)


def _cut(step: Step, role: str, shape: BaseGeometry, work: Work, built: Built) -> None:
    before = work.metal
    if before.is_empty or not before.intersects(shape):
        built.remarks[step.id] = "It lies on no metal. Put it on a shape that stands before it."
        if role == Role.WINDOW:
            return
    if role == Role.WINDOW:
        work.each(lambda piece: without(piece, shape))
    else:
        work.each(lambda piece: common(piece, shape))


def _shown(step: Step, own: BaseGeometry, moves: list[Move]) -> Shown:
    copies = [move(own) for move in moves[1:]]
    return Shown(own, shapely.geometrycollections(copies), place_of(step))


def _tile(step: Step, work: Work, built: Built) -> None:
    tile, side = step.text("tile"), step.number("side")
    whole = step.text("rim") == "whole"
    width, height = step.number("width"), step.number("height")
    tiles: list[Polygon]
    match step.text("within"):
        case "count":
            tiles = tilings.block(tile, side, step.count("columns"), step.count("rows"))
        case "disc":
            tiles = tilings.within(tile, side, disc(width), cut=not whole)
        case "box":
            tiles = tilings.within(tile, side, rectangle(width, height, 0.0), cut=not whole)
        case _:
            # The metal is laid the other way round under the tiles, which then are moved.
            back = laid_back(step, work.metal)
            tiles = tilings.within(tile, side, back, cut=not whole)
            work.joined, work.apart = Polygon(), []
    if not tiles:
        built.remarks[step.id] = "No tile fits in there. Take smaller tiles."
    placed = [laid(step, each) for each in tiles]
    built.shown[step.id] = Shown(areas(united(placed)), Polygon(), place_of(step))
    work.put_apart(placed, built.kerf_mm)


def _drill_here(step: Step, work: Work, built: Built) -> None:
    own = Hole(*place_of(step), step.number("diameter"), DrillKind(step.text("purpose")))
    _drill(step, own, work, built)


def _drill(step: Step, own: Hole, work: Work, built: Built) -> None:
    moves = moves_of(step)
    round_own = disc(own.diameter, (own.x, own.y))
    copies = shapely.geometrycollections([move(round_own) for move in moves[1:]])
    if step.id not in built.shown:
        built.shown[step.id] = Shown(round_own, copies, (own.x, own.y))
    work.drill(own.moved(move) for move in moves)


def _place_holes(waiting: list[Step], work: Work, limits: Limits, built: Built) -> None:
    """Holes that seek their own place do so when the metal is done."""
    for step in waiting:
        pieces = sorted(work.pieces, key=lambda piece: -piece.area)
        if step.text("on") == "largest":
            pieces = pieces[:1]
        missed = not pieces
        for piece in pieces:
            place = lawful_place(
                piece,
                step.number("diameter"),
                step.number("direction"),
                limits.least_hole_edge_mm,
                [hole for hole in work.holes if piece.intersects(hole.point)],
            )
            if place is None:
                missed = True
                continue
            kind = DrillKind(step.text("purpose"))
            own = Hole(float(place.x), float(place.y), step.number("diameter"), kind)
            _drill(step, own, work, built)
        if missed:
            built.remarks[step.id] = (
                f"There is no room for this drill mark with {limits.least_hole_edge_mm:g} mm of "
                "metal around it."
                if pieces
                else "There is no metal to drill yet."
            )
    waiting.clear()


def _change_all(step: Step, work: Work, built: Built) -> None:
    centre = (step.number("cx"), step.number("cy")) if step.has("cx") else (0.0, 0.0)
    if not work.pieces:
        built.remarks[step.id] = "There is no metal before it."
    match step.kind.name:
        case "all-round":
            out, within = step.number("round_out"), step.number("round_in")
            work.each(lambda piece: rounded(piece, out, within))
        case "all-frame":
            width = step.number("frame")
            work.each(lambda piece: framed(piece, width))
        case "all-mirror":
            work.multiply(mirrored(step.text("mirror"), centre))
        case "all-around":
            work.multiply(around(step.count("count"), centre))
        case _:
            factor = step.number("percent") / 100
            work.grow(factor)

            def move(shape: BaseGeometry) -> BaseGeometry:
                scaled = affinity.scale(shape, factor, factor, origin=(0, 0))
                return laid(step, scaled)

            work.multiply([move])


def _tell_lost(work: Work, metal: BaseGeometry, built: Built) -> None:
    """A remark for each step whose own hole lies beside the metal."""
    for step_id, shown in built.shown.items():
        at = Point(shown.at)
        if any(hole.point.distance(at) < 1e-6 for hole in work.holes) and not metal.covers(at):
            built.remarks.setdefault(step_id, "There is no metal where it lies.")
