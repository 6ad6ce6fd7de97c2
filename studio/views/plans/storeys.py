"""The two storeys of a shared plan: stock pieces with what they are parted into, and each student's
part of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from studio.core.cutting import Job, Plan
from studio.core.cutting.groups import project_of
from studio.core.picturing.plan import labels_of
from studio.core.picturing.turns import shared_stock, turns_of
from studio.core.verifying import parts_of
from studio.models import CutPlan, PlanProject

Way = CutPlan.Way


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part of a stock piece as planned; lengths in mm. Without a letter it is a leftover."""

    code: str
    letter: str
    project: int  # its pk; 0 of a leftover
    name: str  # only for whoever may see the project
    is_mine: bool
    width_mm: float
    height_mm: float
    area_mm2: float
    goes_back: bool  # a leftover that the rack gets; the others are scrap


@dataclass(frozen=True, slots=True)
class StockRow:
    """A stock piece with its parts: blanks by letter, then leftovers, the largest first."""

    code: str
    parts: tuple[PartRow, ...]

    @property
    def is_whole(self) -> bool:
        """Whether one student gets it as it is."""
        return len(self.parts) == 1


@dataclass(frozen=True, slots=True)
class TurnRow:
    """Whose turn it is to saw on metal that is passed on: a letter for all, a name for whoever may
    see the project."""

    number: int
    letter: str
    name: str
    is_mine: bool


def storeys(
    plan: CutPlan, job: Job, laid: Plan, shares: Iterable[PlanProject], mine: set[str]
) -> dict[str, Any]:
    """`parted_stock` and `own_parts` (by project) of a parted plan, `turns` of one passed on.

    `shares` are those whose names may be seen, `mine` the groups of the person's own.
    """
    names = {share.project_id: str(share.project) for share in shares}
    if plan.way == Way.PASSED:
        return {"turns": _turns(job, laid, names, mine)}
    if not plan.is_parted:
        return {}
    letters = labels_of(job)
    stock = [
        StockRow(code, tuple(_parts(job, laid, code, letters, names, mine)))
        for code in sorted({placed.metal for placed in laid.placements})
    ]
    own: dict[int, list[PartRow]] = {}
    for row in stock:
        for part in row.parts:
            if part.letter:
                own.setdefault(part.project, []).append(part)
    return {"parted_stock": stock, "own_parts": own}


def _parts(
    job: Job,
    laid: Plan,
    code: str,
    letters: Mapping[str, str],
    names: Mapping[int, str],
    mine: set[str],
) -> list[PartRow]:
    groups = {blank.part: blank.group for blank in laid.blanks if blank.metal == code}
    offcuts = [one.outline.representative_point() for one in laid.offcuts if one.metal == code]
    rows = []
    for number, outline in parts_of(job, code, laid.cuts).items():
        group = groups.get(number)
        project = project_of(group) if group else 0
        x0, y0, x1, y1 = outline.bounds
        rows.append(
            PartRow(
                code=code,
                letter=letters[group] if group else "",
                project=project,
                name=names.get(project, ""),
                is_mine=group in mine,
                width_mm=x1 - x0,
                height_mm=y1 - y0,
                area_mm2=outline.area,
                goes_back=not group and any(outline.intersects(spot) for spot in offcuts),
            )
        )
    return sorted(
        rows, key=lambda row: (not row.letter, len(row.letter), row.letter, -row.area_mm2)
    )


def _turns(job: Job, laid: Plan, names: Mapping[int, str], mine: set[str]) -> list[TurnRow]:
    """Nobody waits where no stock piece carries several students' pieces."""
    if not shared_stock(job, laid.placements):
        return []
    letters = labels_of(job)
    return [
        TurnRow(number, letters[group], names.get(project_of(group), ""), group in mine)
        for number, group in enumerate(turns_of(job, laid.placements), start=1)
    ]
