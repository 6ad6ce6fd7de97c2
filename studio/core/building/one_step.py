"""One step of a recipe by itself: its own shape, where it lies, and its copies."""

from __future__ import annotations

import math

from shapely import affinity
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from .curves import bent, framed, rounded
from .fields import Role
from .letters import bridged, letters
from .recipe import Step
from .shapes import BY_KIND
from .work import Move, around, in_a_row, mirrored


def outline_of(step: Step) -> BaseGeometry:
    """The shape itself, with its corners rounded and made a frame where that is asked."""
    if step.kind.name == "letters":
        area: BaseGeometry = letters(
            step.text("text"), step.number("height"), step.number("spacing")
        )
        if step.text("role") == Role.WINDOW and step.number("bridge") > 0:
            area = bridged(area, step.number("bridge"))
    else:
        area = BY_KIND[step.kind.name](step)
    out, within = step.number("round_out"), step.number("round_in")
    if out > 0 or within > 0:
        area = rounded(area, out, within)
    if step.number("frame") > 0:
        area = framed(area, step.number("frame"))
    return area


def stroke_of(step: Step) -> LineString:
    half = step.number("length") / 2
    bend = math.radians(step.number("bend")) / 2
    if abs(bend) < 1e-4:
        return LineString([(-half, 0.0), (half, 0.0)])
    chord = half * math.sin(abs(bend)) / abs(bend)  # the arc, not its chord, is `length` long
    return LineString(bent((-chord, 0.0), (chord, 0.0), -bend))


def place_of(step: Step) -> tuple[float, float]:
    return step.number("x"), step.number("y")


def laid(step: Step, shape: BaseGeometry) -> BaseGeometry:
    if step.has("flip") and step.text("flip") == "yes":
        shape = affinity.scale(shape, -1.0, 1.0, origin=(0, 0))
    if step.has("turn") and step.number("turn"):
        shape = affinity.rotate(shape, step.number("turn"), origin=(0, 0))
    return affinity.translate(shape, *place_of(step))


def moves_of(step: Step) -> list[Move]:
    """First the repetition, then the mirror; the first move leaves the shape where it is."""
    centre = step.number("cx"), step.number("cy")
    match step.text("copies"):
        case "around":
            repeated = around(step.count("count"), centre)
        case "row":
            repeated = in_a_row(step.count("count"), step.number("dx"), step.number("dy"))
        case _:
            repeated = [lambda shape: shape]
    mirrors = mirrored(step.text("mirror"), centre)

    def both(first: Move, then: Move) -> Move:
        return lambda shape: then(first(shape))

    return [both(first, then) for then in mirrors for first in repeated]


def laid_back(step: Step, shape: BaseGeometry) -> BaseGeometry:
    x, y = place_of(step)
    back = affinity.translate(shape, -x, -y)
    return affinity.rotate(back, -step.number("turn"), origin=(0, 0))
