"""What forms and the script of the layout table ask of parting cuts, read strictly."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from django.utils.translation import gettext as _

from classroom.figures.units import LengthUnit
from classroom.models import User
from classroom.refusals import Refused
from studio.core.cutting import Cut, Job
from studio.core.laying_out import parting
from studio.core.laying_out.laid import WITHIN_MM
from studio.core.laying_out.parting import Line, Named, NoCut
from studio.models import Layout
from studio.steps.layouts import parting as steps

from .changing import degrees, not_understood, sending, signed_length

MOST_LINE: Final = 200
LONGEST_CODE: Final = 200
QUARTERS: Final = {"90": 90.0, "-90": -90.0}
UPRIGHT, LEVEL = 90.0, 0.0

_LineOf = Callable[[Job, Sequence[Cut]], Line]


def cut_asked(one: Layout, sent: Mapping[str, str], person: User, unit: LengthUnit) -> Layout:
    """`do` says what: add, move, shift, turn, size, remove. Answers with the layout as it is then.

    A cut is named in `cut`, a part in `part`, both as "CODE|number". Raises Refused.
    """
    how = sending(person, sent)
    along = sent.get("along", "") in ("1", "on")
    match sent.get("do", ""):
        case "add":
            part = named(sent, "part")
            return steps.add_cut(one, part, _new_line(sent, part, unit), **how)
        case "move":
            to = _line(sent.get("line", ""))
            cut = named(sent, "cut")
            return steps.lay_cut(one, cut, lambda _job, _cuts: to, take_along=along, **how)
        case "shift":
            cut = named(sent, "cut")
            shifted = _from_edge(sent, cut, unit)
            return steps.lay_cut(one, cut, shifted, take_along=along, **how)
        case "turn":
            cut = named(sent, "cut")
            return steps.lay_cut(one, cut, _turned(sent, cut), **how)
        case "size":
            wide, high = (_size(sent, name, unit) for name in ("wide", "high"))
            if wide is None and high is None:
                raise Refused(_("Write another width or height first."))
            part = named(sent, "part")
            return steps.size_part(one, part, wide, high, take_along=along, **how)
        case "remove":
            return steps.remove_cut(one, named(sent, "cut"), **how)
    raise not_understood()


def named(sent: Mapping[str, str], name: str) -> Named:
    """The cut or part in that field. Raises Refused."""
    metal, bar, number = sent.get(name, "").rpartition("|")
    wrong = not bar or not (number.isascii() and number.isdecimal() and len(number) < 5)
    if wrong or len(metal) > LONGEST_CODE:
        raise Refused(_("Choose a cut or a part first."))
    return Named(metal, int(number))


def _line(text: str) -> Line:
    """[x0, y0, x1, y1] in millimetres of the stock piece, as JSON."""
    try:
        found = json.loads(text) if len(text) <= MOST_LINE else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list) or len(found) != 4:
        raise not_understood()
    if not all(isinstance(each, int | float) and not isinstance(each, bool) for each in found):
        raise not_understood()
    if not all(abs(each) <= WITHIN_MM for each in found):  # nothing that is no number is
        raise not_understood()
    x0, y0, x1, y1 = (float(each) for each in found)
    try:
        return Line.between((x0, y0), (x1, y1))
    except ValueError:
        raise not_understood() from None


def _new_line(sent: Mapping[str, str], part: Named, unit: LengthUnit) -> _LineOf:
    """Where the script says, or so far `distance` from the part's `edge`, leaning by `lean`."""
    if "line" in sent:
        there = _line(sent["line"])
        return lambda _job, _cuts: there
    edge = sent.get("edge", "")
    if edge not in ("left", "right", "lower", "upper"):
        raise Refused(_("Choose the edge from which the cut is measured."))
    mm = _distance(sent, unit)
    lean = degrees(sent.get("lean", "") or "0")

    def line(job: Job, cuts: Sequence[Cut]) -> Line:
        shape = None
        if part.metal in job.stock_by_id:
            shape = parting.parts_on(job, part.metal, cuts).leaves.get(part.number)
        if shape is None:
            raise NoCut("no-part")
        x0, y0, x1, y1 = shape.bounds
        x = {"left": x0 + mm, "right": x1 - mm}.get(edge, (x0 + x1) / 2)
        y = {"lower": y0 + mm, "upper": y1 - mm}.get(edge, (y0 + y1) / 2)
        way = UPRIGHT if edge in ("left", "right") else LEVEL
        return Line((x, y), way + lean)

    return line


def _from_edge(sent: Mapping[str, str], cut: Named, unit: LengthUnit) -> _LineOf:
    """So far from the edge of its part that lies on the line's left (`edge` l) or right (r)."""
    edge = sent.get("edge", "")
    if edge not in ("l", "r"):
        raise Refused(_("Choose the edge from which the cut is measured."))
    mm = _distance(sent, unit)

    def line(job: Job, cuts: Sequence[Cut]) -> Line:
        before = parting.line_of(cuts, cut)
        if cut.metal not in job.stock_by_id:
            raise NoCut("no-cut")
        shape = parting.parts_on(job, cut.metal, cuts).shapes.get(parting.cut_of(cuts, cut).part)
        if shape is None or shape.is_empty:
            raise NoCut("misses")
        right, left = parting.from_edges(before, shape)
        return before.shifted(left - mm if edge == "l" else mm - right)

    return line


def _turned(sent: Mapping[str, str], cut: Named) -> _LineOf:
    """By a quarter (`by`), or to `degrees` from the level, about the middle of the cut."""
    by = QUARTERS.get(sent.get("by", ""))
    to = None if by is not None else degrees(sent.get("degrees", ""))

    def line(_job: Job, cuts: Sequence[Cut]) -> Line:
        before, lies = parting.line_of(cuts, cut), parting.cut_of(cuts, cut)
        middle = ((lies.start[0] + lies.end[0]) / 2, (lies.start[1] + lies.end[1]) / 2)
        turn = by if by is not None else (to or 0.0) - before.turn_deg
        return before.turned(turn, middle)

    return line


def _distance(sent: Mapping[str, str], unit: LengthUnit) -> float:
    mm = signed_length(sent.get("distance", ""), unit)
    if not (math.isfinite(mm) and mm >= 0.0):
        raise Refused(_("A distance from an edge is counted into the metal."))
    return mm


def _size(sent: Mapping[str, str], name: str, unit: LengthUnit) -> float | None:
    """None where the field is empty, or as the page gave it."""
    text = sent.get(name, "").strip()
    if not text or text == sent.get(f"{name}-was", "").strip():
        return None
    return signed_length(text, unit)
