"""What can be done now on a step of a shared stock piece, and if not, why not and who can help?

Pure, as the rules of a student's own steps: the same answers stand behind buttons and refusals.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from studio.core.bench.texts import BenchStepKind
from studio.models import StockStep
from studio.steps.bench.obstacles import Obstacle, Rule
from studio.steps.bench.rules import InOrder, Phase, not_started, title


@dataclass(frozen=True, slots=True)
class StockSituation(InOrder[StockStep]):
    """What is known about a shared stock piece at one moment.

    `steps` are those of the whole stock piece. `not_stuck` are the letters of those whose
    papers are not on it yet, `begun` the letters of those who have begun their own steps on it.
    """

    code: str
    metal_is_out: bool
    steps: Sequence[StockStep]
    missing: Mapping[str, str]
    set_aside: Mapping[int, frozenset[str]]
    now: dt.datetime
    not_stuck: Sequence[str] = ()
    begun: Sequence[str] = ()


def phase(step: StockStep, on: StockSituation) -> Phase:
    known = on.phase_but_for(step)
    if known is not None:
        return known
    return Phase.BLOCKED if to_start(step, on) else Phase.READY


def to_start(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """What keeps the step from being started."""
    return [*_metal(on), *on.out_of_order(step), *_permits(step, on)]


def to_stick(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """What keeps whoever acts from signing that papers are stuck on."""
    found = _metal(on)
    if step.started_at is None:
        return [*found, not_started(step)]
    return [*found, *_permits(step, on)]


def to_finish(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """What keeps the step from being signed as done."""
    found = _metal(on)
    if step.started_at is None:
        return [*found, not_started(step)]
    return [*found, *_permits(step, on), *on.too_soon(step), *_stuck(step, on)]


def to_check(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """What keeps the teacher from checking the step."""
    found = _metal(on)
    if step.student_signed_at is None:
        text = _("“%(step)s” has not been signed as done yet. Sign it yourself, or ask for it.")
        found.append(Obstacle(Rule.SIGNATURE, text % {"step": title(step)}))
    return found


def to_mark_done(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """All rules that a teacher sets aside by marking an open step as done."""
    if step.student_signed_at is not None:
        return to_check(step, on)
    found = to_start(step, on) if step.started_at is None else []
    found += [one for one in to_finish(step, on) if one.name not in {had.name for had in found}]
    if step.started_at is None:
        found += [one for one in _stuck(step, on) if one not in found]
    text = _("Nobody has signed “%(step)s” as done.")
    return [*found, Obstacle(Rule.SIGNATURE, text % {"step": title(step)})]


def to_send_back(step: StockStep, on: StockSituation) -> list[str]:
    """Why the step cannot be sent back, in sentences."""
    if not on.metal_is_out:
        return [_("This metal is no longer at the bench, so its steps stay as they are signed.")]
    refused = on.not_to_send_back(step)
    if refused:
        return refused
    if on.begun:
        text = _("Already at work on this metal: %(letters)s. “%(step)s” stays as it is signed.")
        return [text % {"letters": ", ".join(on.begun), "step": title(step)}]
    return []


def set_aside_by_going_on(step: StockStep, on: StockSituation) -> list[Obstacle]:
    """The rules in the way of the next move, which a teacher may set aside."""
    if step.done_at is not None or step.student_signed_at is not None:
        return []
    if step.started_at is None:
        return to_start(step, on)
    # That papers are missing is no rule to set aside: they are stuck, or their owner is left out.
    return [one for one in to_finish(step, on) if one.rule is not Rule.STUCK]


def _metal(on: StockSituation) -> list[Obstacle]:
    if on.metal_is_out:
        return []
    text = _("%(code)s is not at the bench.") % {"code": on.code}
    return [Obstacle(Rule.METAL, text)]


def _permits(step: StockStep, on: StockSituation) -> list[Obstacle]:
    text = _(
        "“%(step)s” needs the bench permit “%(permit)s”, which you do not hold today. A teacher "
        "gives it after watching the work; a classmate with the permit can do this step, too."
    )
    return on.without_permits(step, text)


def _stuck(step: StockStep, on: StockSituation) -> list[Obstacle]:
    if step.kind != BenchStepKind.ADHERE or not on.not_stuck:
        return []
    text = _(
        "Papers not stuck on yet: %(letters)s. For somebody who is away a teacher names who sticks "
        "them, or leaves the student out."
    )
    return [Obstacle(Rule.STUCK, text % {"letters": ", ".join(on.not_stuck)})]
