"""How a change of a pattern's lines is sent and stored.

Each is an object whose "do" says which kind it is; keys that are not known here are passed over,
so that a reader may keep notes of its own beside a change. Numbers are bounded here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from studio.core.reading.bounds import MAX_LINES, MAX_SIZE_MM
from studio.core.reading.labels import GIVEN_LABELS
from studio.core.reading.tracing import Point, Round

from .changes import (
    AddPoint,
    Change,
    Diameter,
    Join,
    MoveLine,
    MovePoint,
    Name,
    NewHole,
    Redraw,
    RemovePoint,
)
from .errors import CannotChange

MAX_LINE_POINTS = 10_000  # of one redrawn line
FAR_MM = 2 * MAX_SIZE_MM  # a drawing may lie beside its page's corner
LEAST_HOLE_MM, MOST_CIRCLE_MM = 0.2, MAX_SIZE_MM
MOST_REACH_MM = 100.0
_DECIMALS = 6  # as the tracing itself
_NOT_UNDERSTOOD = "That change was not understood. Load the page again and try once more."


def change_to_json(change: Change) -> dict[str, Any]:
    """As it is stored; `change_from_json` gives back the same change."""
    match change:
        case Redraw(line, points, closed, circle, why):
            return {
                "do": "redraw",
                "line": line,
                "points": [list(point) for point in points],
                "closed": closed,
                "round": None if circle is None else [circle.x_mm, circle.y_mm, circle.diameter_mm],
                "why": why,
            }
        case MovePoint(line, index, to, reach_mm):
            return {
                "do": "move-point",
                "line": line,
                "index": index,
                "to": list(to),
                "reach_mm": reach_mm,
            }
        case AddPoint(line, after, at):
            return {"do": "add-point", "line": line, "after": after, "at": list(at)}
        case RemovePoint(line, index):
            return {"do": "remove-point", "line": line, "index": index}
        case MoveLine(line, by):
            return {"do": "move-line", "line": line, "by": list(by)}
        case Join(line, end, other, other_end):
            return {
                "do": "join",
                "line": line,
                "end": end,
                "other": other,
                "other_end": other_end,
            }
        case Diameter(line, diameter_mm):
            return {"do": "diameter", "line": line, "diameter_mm": diameter_mm}
        case NewHole(at, diameter_mm):
            return {"do": "new-hole", "at": list(at), "diameter_mm": diameter_mm}
        case Name(labels):
            return {"do": "name", "labels": dict(labels)}


def change_from_json(data: object) -> Change:
    """Whatever a browser may send becomes a change or CannotChange, nothing else."""
    if not isinstance(data, Mapping):
        raise CannotChange(_NOT_UNDERSTOOD)
    kind = data.get("do")
    read = _READ.get(kind) if isinstance(kind, str) else None
    if read is None:
        raise CannotChange(_NOT_UNDERSTOOD)
    return read(data)


def _redraw(data: Mapping[Any, Any]) -> Redraw:
    given = _list(data.get("points"), MAX_LINE_POINTS)
    circle = data.get("round")
    why = data.get("why", "")
    if not isinstance(why, str) or not re.fullmatch(r"[a-z-]{0,40}", why):
        raise CannotChange(_NOT_UNDERSTOOD)
    return Redraw(
        _line_id(data.get("line")),
        tuple(_point(each) for each in given),
        _flag(data.get("closed")),
        None if circle is None else _round(circle),
        why,
    )


def _move_point(data: Mapping[Any, Any]) -> MovePoint:
    return MovePoint(
        _line_id(data.get("line")),
        _index(data.get("index")),
        _point(data.get("to")),
        _between(data.get("reach_mm", 0.0), 0.0, MOST_REACH_MM, "How far the line follows"),
    )


def _add_point(data: Mapping[Any, Any]) -> AddPoint:
    return AddPoint(_line_id(data.get("line")), _index(data.get("after")), _point(data.get("at")))


def _remove_point(data: Mapping[Any, Any]) -> RemovePoint:
    return RemovePoint(_line_id(data.get("line")), _index(data.get("index")))


def _move_line(data: Mapping[Any, Any]) -> MoveLine:
    return MoveLine(_line_id(data.get("line")), _point(data.get("by")))


def _join(data: Mapping[Any, Any]) -> Join:
    return Join(
        _line_id(data.get("line")),
        _end(data.get("end")),
        _line_id(data.get("other")),
        _end(data.get("other_end")),
    )


def _diameter(data: Mapping[Any, Any]) -> Diameter:
    return Diameter(_line_id(data.get("line")), _across(data.get("diameter_mm")))


def _new_hole(data: Mapping[Any, Any]) -> NewHole:
    return NewHole(_point(data.get("at")), _across(data.get("diameter_mm")))


def _name(data: Mapping[Any, Any]) -> Name:
    labels = data.get("labels")
    if not isinstance(labels, Mapping) or not 0 < len(labels) <= MAX_LINES:
        raise CannotChange(_NOT_UNDERSTOOD)
    allowed = {"", *(str(label) for label in GIVEN_LABELS)}
    for label in labels.values():
        if not isinstance(label, str) or label not in allowed:
            raise CannotChange("Choose what the line is from the list.")
    return Name(tuple((_line_id(line), str(label)) for line, label in labels.items()))


_READ: dict[str, Callable[[Mapping[Any, Any]], Change]] = {
    "redraw": _redraw,
    "move-point": _move_point,
    "add-point": _add_point,
    "remove-point": _remove_point,
    "move-line": _move_line,
    "join": _join,
    "diameter": _diameter,
    "new-hole": _new_hole,
    "name": _name,
}


def _list(value: object, most: int) -> Sequence[Any]:
    if not isinstance(value, list | tuple):
        raise CannotChange(_NOT_UNDERSTOOD)
    if len(value) > most:
        raise CannotChange(f"A line may have {most:,} points at most.")
    return value


def _line_id(value: object) -> str:
    if not isinstance(value, str) or not 0 < len(value) <= 20:
        raise CannotChange("That line is not in this pattern. Load the page again.")
    return value


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise CannotChange(_NOT_UNDERSTOOD)
    return value


def _end(value: object) -> str:
    if value not in ("first", "last"):
        raise CannotChange(_NOT_UNDERSTOOD)
    return str(value)


def _index(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 1_000_000:
        raise CannotChange("That point is not on the line any more. Load the page again.")
    return value


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise CannotChange("Give numbers, in millimetres.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise CannotChange("Give numbers, in millimetres.")
    return round(number, _DECIMALS) + 0.0  # no negative zeros


def _point(value: object) -> Point:
    given = _list(value, 2)
    if len(given) != 2:
        raise CannotChange(_NOT_UNDERSTOOD)
    x, y = _number(given[0]), _number(given[1])
    if max(abs(x), abs(y)) > FAR_MM:
        raise CannotChange(f"A point may lie {FAR_MM:,.0f} mm away at most.")
    return x, y


def _between(value: object, least: float, most: float, what: str) -> float:
    number = _number(value)
    if not least <= number <= most:
        raise CannotChange(f"{what} must lie between {least:g} and {most:g} mm.")
    return number


def _across(value: object) -> float:
    return _between(value, LEAST_HOLE_MM, MOST_CIRCLE_MM, "The diameter")


def _round(value: object) -> Round:
    given = _list(value, 3)
    if len(given) != 3:
        raise CannotChange(_NOT_UNDERSTOOD)
    return Round(*_point(given[:2]), _across(given[2]))
