"""One's own whole layout beside the known answer: two pictures and the figures of both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.utils.translation import gettext as _

from classroom.figures.units import format_area, format_run, format_size
from classroom.models import School
from studio.core.cutting import Placement, Plan
from studio.core.cutting.job import Measures
from studio.core.picturing.plan import MetalPicture, picture
from studio.core.practice import (
    BY_CODE,
    Sheet,
    Standing,
    is_whole,
    known,
    metal_mm2,
    standing_of,
)
from studio.core.verifying import Judgement

SCREEN_MM = 0.05
CHANGE_MM2 = 1.0
"""Two areas that differ by less are called the same."""


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of both; `better` is "own", "known" or nothing."""

    label: str
    own: str
    known: str
    better: str


def compared(sheet: Sheet, laid: Sequence[Placement], judged: Judgement, school: School) -> Any:
    """What `studio/practice/compared.html` shows; without `own` where pieces are missing."""
    answer = known(sheet.code)
    whole = is_whole(judged)
    found: dict[str, Any] = {
        "sheet": sheet,
        "known": _known_picture(sheet.code),
        "told": _(sheet.told),
        "own": None,
        "figures": _lines(None, answer.measures, school),
    }
    if not whole:
        return found
    standing = standing_of(sheet, metal_mm2(judged.measures), begun=True)
    return found | {
        "own": _picture(sheet, laid, judged),
        "figures": _lines(judged.measures, answer.measures, school),
        "verdict": _verdict(standing, judged.measures, answer.measures, school),
        "is_better": standing is Standing.BETTER,
    }


@lru_cache(maxsize=32)
def _known_picture(code: str) -> MetalPicture:
    sheet = BY_CODE[code]
    return _picture(sheet, sheet.answer, known(code))


def _picture(sheet: Sheet, laid: Sequence[Placement], judged: Judgement) -> MetalPicture:
    plan = Plan(tuple(laid), (), judged.measures, judged.offcuts, 0, 0.0, 0, by_hand=True)
    (one,) = picture(sheet.job, plan, plain_mm=SCREEN_MM)
    return one


def _verdict(standing: Standing, own: Measures, answer: Measures, school: School) -> str:
    apart = own.consumed_mm2 - answer.consumed_mm2
    much = {"area": format_area(abs(apart), school.units)}
    if standing is Standing.BETTER:
        if apart < -CHANGE_MM2:
            return _("Yours beats the known answer: it uses up %(area)s less.") % much
        return _("Yours beats the known answer: more of what it leaves can be used again.")
    if standing is Standing.AS_GOOD:
        return _("Yours is as good as the known answer.")
    if apart > CHANGE_MM2:
        return _("Yours uses up %(area)s more than the known answer.") % much
    return _("Yours uses up no more, but what it leaves is less useful, or more is sawn.")


def _lines(own: Measures | None, answer: Measures, school: School) -> list[Line]:
    def area(of: Measures) -> str:
        return format_area(of.consumed_mm2, school.units)

    def inside(of: Measures) -> str:
        return f"{round(100 * of.piece_area_mm2 / of.consumed_mm2)} %" if of.consumed_mm2 else "–"

    def strip(of: Measures) -> str:
        longer, shorter = of.largest_rectangle_mm
        return format_size(longer, shorter, school.units) if longer > 0 else _("none")

    def saw(of: Measures) -> str:
        return format_run(of.saw_line_mm, school.units)

    rows: list[tuple[str, Callable[[Measures], str], Callable[[Measures], float]]] = [
        (_("Metal used up"), area, lambda of: of.consumed_mm2),
        (_("Of that in the pieces"), inside, lambda of: -of.piece_area_mm2 / of.consumed_mm2),
        (_("Largest strip left"), strip, _less_strip),
        (_("To saw"), saw, lambda of: of.saw_line_mm),
    ]
    return [_line(label, told, weigh, own, answer) for label, told, weigh in rows]


def _less_strip(of: Measures) -> float:
    return -of.largest_rectangle_mm[0] * of.largest_rectangle_mm[1]


def _line(
    label: str,
    told: Callable[[Measures], str],
    weigh: Callable[[Measures], float],
    own: Measures | None,
    answer: Measures,
) -> Line:
    theirs = told(answer)
    if own is None:
        return Line(label, "", theirs, "")
    mine = told(own)
    better = "" if mine == theirs else "own" if weigh(own) < weigh(answer) else "known"
    return Line(label, mine, theirs, better)
