"""The numbers of a sawing order, each where its cut begins: none on another, on a window or on a
hole. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from studio.core.picturing.clear_places import clear_places
from studio.core.picturing.sawing_order import SawingOrder
from studio.prints.paper.paths import Frame, num

ORDER_RADIUS_MM = 2.4


@dataclass(frozen=True, slots=True)
class Start:
    """The number of a turn of the saw, where it begins."""

    number: int
    x: str
    y: str
    text_y: str
    size: str
    radius: str
    lead: str  # from the number to where sawing begins, when it stands beside
    frees_offcut: bool = False
    parts_metal: bool = False


def starts_of(
    order: SawingOrder,
    frame: Frame,
    keep_off: BaseGeometry,
    labels: Sequence[tuple[Point, float]] = (),
) -> list[Start]:
    """Numbers where sawing begins; one that would hide a window, a hole, another number or a
    label stands beside, with a line. `labels` are those on the metal, with their radii."""
    wanted = [(cut.number, Point(cut.lines[0].coords[0])) for cut in order.parting]
    wanted += [(line.number, line.start) for line in order.lines]
    wanted += [(cut.number, Point(cut.line.coords[0])) for cut in order.offcut_cuts]
    parting, freeing = len(order.parting), {cut.number for cut in order.offcut_cuts}
    places = clear_places(
        [at for _, at in wanted], ORDER_RADIUS_MM / frame.scale, keep_off, taken=labels
    )
    found = []
    for (number, start), place in zip(wanted, places, strict=True):
        x, y = frame.xy(place.x, place.y)
        from_x, from_y = frame.xy(start.x, start.y)
        size = 2.9 if number < 10 else 2.3
        beside = place.distance(start) > 1e-6
        lead = f"M{num(from_x)} {num(from_y)}L{num(x)} {num(y)}" if beside else ""
        found.append(
            Start(
                number,
                num(x),
                num(y),
                num(y + 0.36 * size),
                num(size),
                num(ORDER_RADIUS_MM),
                lead,
                number in freeing,
                number <= parting,
            )
        )
    return found
