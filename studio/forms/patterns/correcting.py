"""What a student's buttons on the correcting page mean, sent by the script or by plain forms."""

from __future__ import annotations

import json
from collections.abc import Mapping

from classroom.figures.units import LengthError, LengthUnit, parse_length_mm
from classroom.refusals import Refused
from inventory.metals.drills import DRILLS
from studio.core.correcting import CannotChange, Change, change_from_json
from studio.core.reading.bounds import DRILL_MAX_ASKED_MM

MOST_AT_ONCE = 50
MOST_BYTES = 400_000
REACHES_MM = (0.0, 1.0, 3.0, 8.0)
"""How much of a line may follow a point that is moved; the first is the point alone."""

DRILL_CHOICES = tuple(
    (f"{drill.diameter_mm:.4f}", drill.label)
    for drill in DRILLS
    if drill.diameter_mm <= DRILL_MAX_ASKED_MM
)
"""Diameter in millimetres and what stands on the drill, thinnest first."""


def changes_asked(sent: Mapping[str, str], unit: LengthUnit) -> list[Change]:
    """The changes that a form asks for; bare lengths are in `unit`. Raises Refused.

    `changes` holds them as JSON; else `do` names the button that was pressed, and the other
    fields are those of the page's forms.
    """
    try:
        if "changes" in sent:
            return _as_json(sent["changes"])
        return _pressed(sent, unit)
    except CannotChange as cannot:
        raise Refused(str(cannot)) from cannot
    except LengthError as odd:
        raise Refused(str(odd)) from odd


def _as_json(text: str) -> list[Change]:
    try:
        if len(text) > MOST_BYTES:
            raise ValueError
        found = json.loads(text)
    except (ValueError, RecursionError) as garbled:
        raise CannotChange(
            "That change was not understood. Load the page again and try once more."
        ) from garbled
    if not isinstance(found, list) or not 0 < len(found) <= MOST_AT_ONCE:
        raise CannotChange("Make one change after the other.")
    return [change_from_json(each) for each in found]


def _pressed(sent: Mapping[str, str], unit: LengthUnit) -> list[Change]:
    do, line = sent.get("do", ""), sent.get("line", "")
    asked: dict[str, object] = {"do": do, "line": line}
    match do:
        case "name":
            asked = {"do": do, "labels": {line: sent.get("label", "")}}
        case "diameter":
            asked["diameter_mm"] = _diameter(sent, unit)
        case "new-hole":
            asked |= {"at": _spot(sent, unit), "diameter_mm": _diameter(sent, unit)}
        case "join":
            asked |= zip(("line", "end", "other", "other_end"), _four(sent), strict=True)
        case "move-point":
            asked |= {"index": _index(sent), "to": _spot(sent, unit), "reach_mm": _reach(sent)}
        case "add-point":
            asked |= {"after": _index(sent), "at": _spot(sent, unit)}
        case "remove-point":
            asked["index"] = _index(sent)
        case _:
            raise CannotChange("Press one of the page's buttons.")
    return [change_from_json(asked)]


def _four(sent: Mapping[str, str]) -> list[str]:
    """ "3|last|5|first": the two ends of a gap."""
    ends = sent.get("gap", "").split("|")
    if len(ends) != 4:
        raise CannotChange("That gap is not there any more.")
    return ends


def _index(sent: Mapping[str, str]) -> int:
    """People count points from 1."""
    text = sent.get("point", "").strip()
    if not text.isascii() or not text.isdecimal() or not 0 < len(text) < 7 or int(text) < 1:
        raise CannotChange("Give the point's number as it stands in the list.")
    return int(text) - 1


def _spot(sent: Mapping[str, str], unit: LengthUnit) -> list[float]:
    return [_signed(sent.get("x", ""), unit), _signed(sent.get("y", ""), unit)]


def _signed(text: str, unit: LengthUnit) -> float:
    """A place along an axis: as a length, but it may lie on the other side of nothing."""
    written = text.strip()
    back = written[:1] in ("-", "\N{MINUS SIGN}")
    length = parse_length_mm(written[1:] if back else written, unit, least_mm=0)
    return -length if back else length


def _diameter(sent: Mapping[str, str], unit: LengthUnit) -> float:
    """A typed diameter comes before the chosen drill."""
    if typed := sent.get("diameter", "").strip():
        return parse_length_mm(typed, unit)
    if (chosen := sent.get("drill", "")) in dict(DRILL_CHOICES):
        return float(chosen)
    raise CannotChange("Choose a drill, or type the diameter.")


def _reach(sent: Mapping[str, str]) -> float:
    chosen = {f"{reach:g}": reach for reach in REACHES_MM}
    return chosen.get(sent.get("reach", "0"), 0.0)
