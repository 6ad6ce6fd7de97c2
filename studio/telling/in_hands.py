"""Metal that is passed on: what it waits for, who has it since when, and whose turn is next.

Reads only, with a number of queries that does not grow with the metal.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.models import Course, User
from studio.models import PlanProject, SignOff, StockStep
from studio.queries.shared_stock import (
    SharedStock,
    letters_in,
    passed_plans_at_the_bench,
    shared_stock_of,
)
from studio.steps.bench.rules import Phase, clock, clock_at_end, title
from studio.steps.bench.shared_metal import letter_of, newest_holders, steps_of_stock
from studio.steps.bench.situation import school_now
from studio.steps.sharing.holding import Holding, holdings, next_in_turn, sawn_projects
from studio.steps.sharing.stock_rules import StockSituation, phase


@dataclass(frozen=True, slots=True)
class InHands:
    """One stock piece of several students, as a teacher has to see it.

    `step` is the first of its own steps that is not done, `newest` the entry (its pk, or 0) that
    says who has it. `done` says that whoever has it has sawn all own pieces out. `sawn` and
    `begun` are the projects on it that have sawn, and that have begun any step of own.
    """

    stock: SharedStock
    step: StockStep | None
    phase: Phase | None
    holding: Holding | None
    following: PlanProject | None
    newest: int
    done: bool
    now: dt.datetime
    letters: dict[tuple[int, str], str]
    sawn: set[int]
    begun: set[int]

    @property
    def pk(self) -> int:
        return self.stock.plan_stock.pk

    @property
    def code(self) -> str:
        return self.stock.plan_stock.stock_piece.code

    @property
    def holder(self) -> PlanProject | None:
        return self.holding.share if self.holding is not None else None

    @property
    def holder_letter(self) -> str:
        return letter_of(self.holder, self.letters) if self.holder is not None else ""

    @property
    def following_letter(self) -> str:
        return letter_of(self.following, self.letters) if self.following is not None else ""

    @property
    def since(self) -> str:
        """Since when whoever has it has it: "10:42", with the day where that is not today."""
        return clock(self.holding.since, self.now) if self.holding is not None else ""

    @property
    def is_away(self) -> bool:
        return self.holding is not None and self.holding.is_away and not self.done

    @property
    def needs_the_teacher(self) -> bool:
        """Whether it stands still until a teacher does something."""
        if self.step is not None:
            return self.phase is Phase.TO_CHECK
        stands = self.holder is None or self.done or self.is_away
        return stands and self.following is not None

    @property
    def words(self) -> str:
        """How it stands, in one line."""
        if self.step is not None:
            return self._step_words(self.step)
        if self.holding is None:
            return _("nobody has been named to have it")
        since = {"time": clock(self.holding.since, self.now)}
        if self.holder is None:
            return _("on the shelf since %(time)s") % since
        said = since | {"student": str(self.holder.project.student), "letter": self.holder_letter}
        if self.done:
            return _("%(student)s (%(letter)s) has sawn; there since %(time)s") % said
        return _("with %(student)s (%(letter)s) since %(time)s") % said

    def _step_words(self, step: StockStep) -> str:
        said = {"step": title(step)}
        if self.phase is Phase.TO_CHECK:
            return _("“%(step)s” asks for your check") % said
        if self.phase is Phase.WAITING and step.wait_until is not None:
            said["time"] = clock_at_end(step.wait_until, self.now)
            return _("“%(step)s” until %(time)s") % said
        if self.phase is Phase.AT_WORK:
            return _("“%(step)s” is under way") % said
        return _("“%(step)s” comes next, for all together") % said


def metal_in_hands(user: User, course: Course | None = None) -> list[InHands]:
    """All such metal of a teacher's courses, or of one; what stands still first."""
    plans = passed_plans_at_the_bench(user, course)
    stock = shared_stock_of(plans) if plans else []
    if not stock:
        return []
    letters = letters_in(plans)
    found = in_hands(stock, letters)
    return sorted(found, key=lambda one: (not one.needs_the_teacher, one.code))


def in_hands(stock: list[SharedStock], letters: dict[tuple[int, str], str]) -> list[InHands]:
    holding, newest = holdings(stock), newest_holders(stock)
    steps, sawn = steps_of_stock(stock), sawn_projects(stock)
    projects = {share.project_id for one in stock for share in one.shares}
    begun = set(
        SignOff.objects.filter(step__project__in=projects).values_list("step__project", flat=True)
    )
    found = []
    for one in stock:
        now = school_now(one.plan_stock.plan.course.school)
        own = steps.get(one.plan_stock.pk, ())
        on = StockSituation(one.plan_stock.stock_piece.code, True, own, {}, {}, now)
        held = holding.get(one.plan_stock.pk)
        share = held.share if held is not None else None
        row = newest.get(one.plan_stock.pk)
        found.append(
            InHands(
                one,
                on.current,
                phase(on.current, on) if on.current is not None else None,
                held,
                next_in_turn(one, share, sawn),
                row.pk if row is not None else 0,
                share is not None and share.project_id in sawn,
                now,
                letters,
                sawn,
                begun,
            )
        )
    return found
