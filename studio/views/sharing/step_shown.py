"""One step of a whole stock piece, as a student of it or the teacher sees it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext

from classroom.models import User
from studio.core.bench.texts import BenchStepKind
from studio.core.bench.times import HowLong, how_long
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.models import PlanProject, StockSignOff, StockStep
from studio.steps.bench.obstacles import Obstacle, Rule
from studio.steps.bench.rules import Phase
from studio.steps.sharing import stock_rules
from studio.steps.sharing.stock_rules import StockSituation
from studio.views.bench.any_step import AnyStepShown


@dataclass(frozen=True, slots=True)
class Button:
    """Where it sends, what stands on it, and what is signed with it."""

    url: str
    label: str
    text: str = ""


@dataclass(slots=True)
class StockStepShown(AnyStepShown):
    """One step of the whole stock piece, and what this person can do about it now."""

    step: StockStep
    phase: Phase
    obstacles: list[Obstacle]
    clock: dt.datetime
    sent_back: StockSignOff | None = None
    may_start: bool = False
    may_sign: bool = False
    may_stick: bool = False
    may_check: bool = False
    back_form: SendBackForm | None = None
    override_form: OverrideForm | None = None
    bound: bool = False
    pictures: tuple[()] = ()
    orders: tuple[()] = ()
    how_long: HowLong | None = None

    @property
    def is_sticking(self) -> bool:
        return self.step.kind == BenchStepKind.ADHERE

    @property
    def button(self) -> Button | None:
        """The one thing to press now."""
        if self.may_start:
            label = gettext("Start this step for all")
            if self.step.wait_minutes:
                said = {"count": self.step.wait_minutes}
                label = gettext("Start the waiting time: %(count)s min") % said
            return Button(reverse("stock_step_start", args=[self.step.pk]), label)
        if self.may_stick:
            return Button(
                reverse("papers_stick", args=[self.step.pk]),
                gettext("My papers are stuck on"),
                gettext(
                    "With this you sign: my own papers are on, in their place, as described here."
                ),
            )
        if self.may_sign:
            return Button(
                reverse("stock_step_done", args=[self.step.pk]),
                gettext("Done: I sign this step"),
                gettext(
                    "With this you sign: I did it as described here and looked whether it is right."
                ),
            )
        return None

    @property
    def no_button(self) -> str:
        """Why there is nothing to press."""
        if self.waits:
            return gettext("It can be signed from %(time)s.") % {"time": self.until}
        if self.phase is Phase.TO_CHECK:
            return gettext("Show the metal to your teacher now.")
        if self.phase is Phase.AT_WORK and self.is_sticking and not self.obstacles:
            return gettext("It goes on when everybody's papers are on.")
        return gettext("You cannot go on yet: see what is missing above.")


def step_shown(
    user: User,
    step: StockStep,
    on: StockSituation,
    own: PlanProject | None,
    stuck: dict[int, StockSignOff],
    sent_back: StockSignOff | None,
) -> StockStepShown:
    phase = stock_rules.phase(step, on)
    obstacles: list[Obstacle] = []
    if phase in (Phase.BLOCKED, Phase.LATER):
        obstacles = stock_rules.to_start(step, on)
    elif phase in (Phase.AT_WORK, Phase.WAITING):
        found = stock_rules.to_finish(step, on)
        obstacles = [one for one in found if one.rule is not Rule.WAIT]
    kind = BenchStepKind(step.kind)
    one = StockStepShown(
        step,
        phase,
        [each for each in obstacles if each.rule is not Rule.STUCK],
        on.now,
        sent_back if phase in (Phase.READY, Phase.BLOCKED, Phase.AT_WORK, Phase.WAITING) else None,
        how_long=how_long(kind, (), step.wait_minutes),
    )
    if user.is_teacher or (own is not None and own.live):
        one.may_start = phase is Phase.READY
        one.may_sign = phase is Phase.AT_WORK and not obstacles  # with all papers on
    if own is not None and own.live and one.is_sticking and phase is Phase.AT_WORK:
        one.may_stick = own.pk not in stuck and not stock_rules.to_stick(step, on)
    if user.is_teacher:
        one.may_check = phase is Phase.TO_CHECK and not stock_rules.to_check(step, on)
        if not stock_rules.to_send_back(step, on):
            one.back_form = SendBackForm(auto_id=f"back-{step.pk}-%s")
        if phase not in (Phase.DONE, Phase.TO_CHECK) and on.metal_is_out:
            can_go_on = bool(stock_rules.set_aside_by_going_on(step, on))
            one.override_form = OverrideForm(auto_id=f"aside-{step.pk}-%s", can_go_on=can_go_on)
    return one
