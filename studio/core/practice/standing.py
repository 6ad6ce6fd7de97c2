"""How far has somebody come with a practice sheet, and how near is it to the known answer?"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import lru_cache
from typing import Final

from studio.core.cutting.job import Measures
from studio.core.verifying import Judgement, Watch

from .sheets import BY_CODE, PRICE_PER_MM2, Sheet, Source

AS_GOOD: Final = 0.005
BETTER: Final[Mapping[Source, float]] = {"dissection": -0.005, "long run": -0.001}
"""Shares of the known answer's worth of metal: what nobody can see is no difference. A dissection
laid with its room elsewhere is the same dissection."""


class Standing(StrEnum):
    """The states of one person's work on one sheet, in order."""

    NOT_BEGUN = "not begun"
    BEGUN = "begun"
    WHOLE = "whole"
    AS_GOOD = "as good"
    BETTER = "better"


@lru_cache(maxsize=32)
def known(code: str) -> Judgement:
    """What the judge says of a sheet's known answer."""
    sheet = BY_CODE[code]
    return Watch(sheet.job).judge(sheet.answer)


def metal_mm2(measures: Measures) -> float:
    """The metal that a layout costs, by which layouts of one sheet are compared.

    What is used up counts whole, what is left counts less the smaller it is, and sawing counts a
    little: the cost of every plan of this app, said as an area.
    """
    return measures.cost / PRICE_PER_MM2


def is_whole(judged: Judgement) -> bool:
    """Whether every piece lies, and none of them wrongly."""
    return not judged.faults and not judged.missing


def standing_of(sheet: Sheet, best_mm2: float | None, *, begun: bool) -> Standing:
    """Where somebody stands whose best whole layout costs so much metal; None without one."""
    if best_mm2 is None:
        return Standing.BEGUN if begun else Standing.NOT_BEGUN
    least = metal_mm2(known(sheet.code).measures)
    more = (best_mm2 - least) / least
    if more < BETTER[sheet.source]:
        return Standing.BETTER
    return Standing.AS_GOOD if more <= AS_GOOD else Standing.WHOLE
