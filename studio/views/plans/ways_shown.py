"""What each way of sharing a plan's metal comes to, side by side, for the teacher who chooses."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_noop, ngettext

from studio.models import CutPlan, Shear, WayTry
from studio.steps.bench.tools import RoomTools, tools_of
from studio.steps.plans.sharing import WAYS
from studio.steps.plans.way_words import words_of
from studio.steps.plans.ways.ask import BLANKS, TURNS

Way = CutPlan.Way
LEAST_MM2 = Decimal("0.5")  # below that nobody sees a difference

TITLES = {
    Way.PARTED: gettext_noop("Parted first, with the shear"),
    Way.SAWN: gettext_noop("Sawn apart first"),
    Way.PASSED: gettext_noop("Passed on, undivided"),
    Way.ALONE: gettext_noop("One student’s metal"),
}
NEEDS = {
    Shear.NONE: gettext_noop("A shear, which the room has not."),
    Shear.HAND: gettext_noop(
        "The bench shear: a student with the permit, or you, as your district allows."
    ),
    Shear.FOOT: gettext_noop(
        "The foot guillotine: a student with the permit, or you, as your district allows."
    ),
    Shear.POWER: gettext_noop("The power-driven guillotine: the teacher alone."),
}
SAW_NEEDS = gettext_noop("The saw frame: a student with the permit, or you.")
PASSED_NEEDS = gettext_noop("No tool, but one day on which all stick; you hand the metal on.")


def way_title(way: str) -> str:
    """What a way is called on a page."""
    return gettext(TITLES[Way(way)])


@dataclass(frozen=True, slots=True)
class WayRow:
    """One way; differences are against the plan's own."""

    way: str
    row: WayTry
    is_own: bool
    needs: str
    waiting: str
    more_mm2: Decimal | None  # negative: less
    more_money: Decimal | None

    @property
    def title(self) -> str:
        return way_title(self.way)

    @property
    def told(self) -> str:
        """Why it cannot be gone, or was not worked out."""
        return words_of(self.row.told)

    @property
    def blanks(self) -> int:
        return int(self.row.figures.get(BLANKS, 0))

    @property
    def is_done(self) -> bool:
        return self.row.state == WayTry.State.DONE

    @property
    def is_whole(self) -> bool:
        """Whether every piece finds a place this way."""
        return self.is_done and not self.row.unplaced

    @property
    def may_be_chosen(self) -> bool:
        return self.is_done and not self.is_own

    @property
    def has_failed(self) -> bool:
        return self.row.state == WayTry.State.FAILED

    @property
    def less_mm2(self) -> Decimal | None:
        return None if self.more_mm2 is None else -self.more_mm2

    @property
    def less_money(self) -> Decimal | None:
        return None if self.more_money is None else -self.more_money


def ways_context(plan: CutPlan, students: int) -> dict[str, Any]:
    """The ways of a proposed plan with several students; nothing for any other."""
    rows = {row.way: row for row in plan.way_tries.defer("job", "answer")}
    own = rows.get(plan.way)
    if plan.state != CutPlan.State.PROPOSED or plan.rival_of_id is not None or own is None:
        return {"ways": []}
    tools = tools_of(plan.course.school)
    ways = [_row(rows[way], own, tools, students) for way in WAYS if way in rows]
    return {
        "ways": ways,
        "ways_open": any(one.row.is_open for one in ways),
        "ways_against": against_undivided(plan, own, rows.get(Way.PASSED)),
        "ways_waiting": at_once(students),
        "ways_whole": [
            one for one in ways if own.unplaced and one.is_done and not one.row.unplaced
        ],
        "ways_own": own,
    }


def against_undivided(
    plan: CutPlan, own: WayTry, undivided: WayTry | None
) -> dict[str, Any] | None:
    """What parting costs against undivided metal; None where that is not worked out."""
    if plan.way not in (Way.PARTED, Way.SAWN) or undivided is None:
        return None
    if None in (own.money, undivided.money, own.consumed_mm2, undivided.consumed_mm2):
        return None
    mm2 = own.consumed_mm2 - undivided.consumed_mm2  # type: ignore[operator]
    return {
        "blanks": int(own.figures.get(BLANKS, 0)),
        "mm2": Decimal(0) if abs(mm2) < LEAST_MM2 else mm2,
        "less_mm2": -mm2,
        "money": own.money - undivided.money,  # type: ignore[operator]
        "less_money": undivided.money - own.money,  # type: ignore[operator]
    }


def at_once(students: int) -> str:
    return ngettext(
        "%(count)s student can work at once", "all %(count)s students can work at once", students
    ) % {"count": students}


def _row(row: WayTry, own: WayTry, tools: RoomTools, students: int) -> WayRow:
    return WayRow(
        way=row.way,
        row=row,
        is_own=row.way == own.way,
        needs=_needs(row.way, tools),
        waiting=_waiting(row, students),
        more_mm2=_more(row.consumed_mm2, own.consumed_mm2, LEAST_MM2),
        more_money=_more(row.money, own.money, Decimal("0.01")),
    )


def _needs(way: str, tools: RoomTools) -> str:
    if way == Way.PARTED:
        return gettext(NEEDS[Shear(tools.shear)])
    return gettext(SAW_NEEDS if way == Way.SAWN else PASSED_NEEDS)


def _waiting(row: WayTry, students: int) -> str:
    """Empty where it is not known yet."""
    if row.state != WayTry.State.DONE:
        return ""
    turns = int(row.figures.get(TURNS, 0))
    if row.way != Way.PASSED or turns < 2:
        return capfirst(at_once(students))
    return gettext("One after another: %(count)s turns") % {"count": turns}


def _more(one: Decimal | None, own: Decimal | None, least: Decimal) -> Decimal | None:
    """By how much it is more than the plan's own; None where that is not known, or hardly any."""
    if one is None or own is None or abs(one - own) < least:
        return None
    return one - own
