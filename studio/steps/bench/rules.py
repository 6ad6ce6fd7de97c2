"""What can be done now on a bench step, and if not, why not and who can help?

Pure: it looks at steps that have been loaded and asks nothing of the database. The same answers
stand behind the buttons that a page shows and behind the server's refusal, so the two agree. Its
sentences come in the language that is on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

from django.utils.formats import date_format
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.wording.school_clock import full_minute
from studio.models import BenchStep, Project
from studio.models.step_row import StepRow

from .obstacles import Obstacle, Rule
from .shared_rules import NOT_SHARED, SharedMetal, in_the_way

__all__ = ["Obstacle", "Rule"]

OF_OTHERS = frozenset({Rule.BLANK, Rule.STOCK, Rule.HOLDER, Rule.PAPERS})
"""What goes away by itself when others have done their part: nobody is stopped by it."""


class Phase(StrEnum):
    """Where a step stands, as everybody's pages say it."""

    DONE = "done"
    TO_CHECK = "to check"  # signed by the student, waits for the teacher
    WAITING = "waiting"  # started; the waiting time is not over
    AT_WORK = "at work"
    READY = "ready"  # may be started
    BLOCKED = "blocked"  # its turn, but something is missing
    SHARED = "shared"  # waits for metal that is shared: nothing is missing, it takes its turn
    LATER = "later"  # the step before is not done


AnyStep = TypeVar("AnyStep", bound=StepRow)


class InOrder(Generic[AnyStep]):
    """Steps that are done one after the other: a student's own, or those of shared metal.

    `missing` maps codes of permits that whoever acts does not hold today to their titles;
    `set_aside` has, by a step's pk, the names of rules that a teacher has set aside since it was
    started.
    """

    __slots__ = ()

    steps: Sequence[AnyStep]
    missing: Mapping[str, str]
    set_aside: Mapping[int, frozenset[str]]
    now: dt.datetime

    @property
    def current(self) -> AnyStep | None:
        """The first step that is not done."""
        return next((step for step in self.steps if step.done_at is None), None)

    def before(self, step: AnyStep) -> AnyStep | None:
        """The first earlier step that is still open."""
        earlier = (one for one in self.steps if one.number < step.number)
        return next((one for one in earlier if one.done_at is None), None)

    def later_begun(self, step: AnyStep) -> AnyStep | None:
        later = (one for one in self.steps if one.number > step.number)
        return next((one for one in later if one.started_at or one.done_at), None)

    def phase_but_for(self, step: AnyStep) -> Phase | None:
        """Where the step stands; None where it is its turn, so that rules decide."""
        if step.done_at is not None:
            return Phase.DONE
        if step.student_signed_at is not None:
            return Phase.TO_CHECK
        if step.started_at is not None:
            return Phase.WAITING if is_waiting(step, self.now) else Phase.AT_WORK
        return Phase.LATER if self.before(step) is not None else None

    def out_of_order(self, step: AnyStep) -> list[Obstacle]:
        """That a step before it is open."""
        before = self.before(step)
        if before is None:
            return []
        names = {"before": title(before), "step": title(step)}
        text = _("“%(before)s” comes before “%(step)s” and is not done yet.") % names
        if before.student_signed_at is not None:
            text += " " + _("It waits for a teacher's check.")
        return [Obstacle(Rule.ORDER, text)]

    def without_permits(self, step: AnyStep, text: str, **names: object) -> list[Obstacle]:
        """Permits that are missing and not set aside; `text` names step, permit and `names`."""
        aside = self.set_aside.get(step.pk, frozenset())
        found = [
            Obstacle(
                Rule.PERMIT,
                text % {"step": title(step), "permit": self.missing[code], **names},
                code,
            )
            for code in step.permits
            if code in self.missing
        ]
        return [one for one in found if one.name not in aside]

    def too_soon(self, step: AnyStep) -> list[Obstacle]:
        """That the waiting time runs."""
        if step.wait_until is None or not is_waiting(step, self.now):
            return []
        text = _(
            "“%(step)s” needs its time: it can be signed from %(time)s, and not before. A teacher "
            "can end the wait for a reason."
        )
        said = text % {"step": title(step), "time": clock_at_end(step.wait_until, self.now)}
        return [Obstacle(Rule.WAIT, said)]

    def not_to_send_back(self, step: AnyStep) -> list[str]:
        """That there is nothing to send back, or that a later step has been begun."""
        if step.student_signed_at is None and step.done_at is None:
            text = _("“%(step)s” is open: there is nothing to send back yet.")
            return [text % {"step": title(step)}]
        later = self.later_begun(step)
        if later is None:
            return []
        text = _("“%(later)s” has been started since. Send that one back first, then “%(step)s”.")
        return [text % {"later": title(later), "step": title(step)}]


@dataclass(frozen=True, slots=True)
class Situation(InOrder[BenchStep]):
    """What is known about a project's bench at one moment.

    `now` is on the school's clock. `shared` is the metal that it has together with others.
    """

    stage: str
    steps: Sequence[BenchStep]
    missing: Mapping[str, str]
    set_aside: Mapping[int, frozenset[str]]
    now: dt.datetime
    shared: SharedMetal = NOT_SHARED


def phase(step: BenchStep, on: Situation) -> Phase:
    known = on.phase_but_for(step)
    if known is not None:
        return known
    in_the_way = to_start(step, on)
    if in_the_way and all(one.rule in OF_OTHERS for one in in_the_way):
        return Phase.SHARED
    return Phase.BLOCKED if in_the_way else Phase.READY


def foremost(on: Situation) -> BenchStep | None:
    """The step that asks for a check, or else the first that is not done."""
    asking = (one for one in on.steps if one.student_signed_at and one.done_at is None)
    return next(asking, on.current)


def is_waiting(step: StepRow, now: dt.datetime) -> bool:
    return step.wait_until is not None and now < step.wait_until


def to_start(step: BenchStep, on: Situation) -> list[Obstacle]:
    """What keeps the step from being started."""
    aside = on.set_aside.get(step.pk, frozenset())
    shared = in_the_way(step, on.steps, on.shared, aside)
    return [*_metal(on), *on.out_of_order(step), *shared, *_permits(step, on)]


def to_finish(step: BenchStep, on: Situation) -> list[Obstacle]:
    """What keeps the student from signing the step as done.

    Not that the metal has been handed on since it was started: what was done before is signed for,
    and the step after it needs the metal again.
    """
    found = _metal(on)
    if step.started_at is None:
        return [*found, not_started(step)]
    return [*found, *_permits(step, on), *on.too_soon(step)]


def not_started(step: StepRow) -> Obstacle:
    """That a step is signed before it is started."""
    text = _("“%(step)s” has not been started. Press “Start” first, then do it.")
    return Obstacle(Rule.START, text % {"step": title(step)})


def to_check(step: BenchStep, on: Situation) -> list[Obstacle]:
    """What keeps the teacher from checking the step."""
    found = _metal(on)
    if step.student_signed_at is None:
        text = _(
            "“%(step)s” has not been signed as done by the student. Ask for that first, or mark it "
            "done yourself with a reason."
        )
        found.append(Obstacle(Rule.SIGNATURE, text % {"step": title(step)}))
    return found


def to_mark_done(step: BenchStep, on: Situation) -> list[Obstacle]:
    """All rules that a teacher sets aside by marking an open step as done."""
    if step.student_signed_at is not None:
        return to_check(step, on)
    found = to_start(step, on) if step.started_at is None else []
    found += [one for one in to_finish(step, on) if one.name not in {had.name for had in found}]
    missing = _("%(student)s has not signed “%(step)s” as done.")
    names = {"student": step.project.student, "step": title(step)}
    return [*found, Obstacle(Rule.SIGNATURE, missing % names)]


def to_send_back(step: BenchStep, on: Situation) -> list[str]:
    """Why the step cannot be sent back, in sentences."""
    if on.stage == Project.Stage.CLOSED:
        return [_("This project is closed, so its steps stay as they are signed.")]
    return on.not_to_send_back(step)


def set_aside_by_going_on(step: BenchStep, on: Situation) -> list[Obstacle]:
    """The rules in the way of the student's next move, which a teacher may set aside."""
    if step.done_at is not None or step.student_signed_at is not None:
        return []
    return to_start(step, on) if step.started_at is None else to_finish(step, on)


def clock(moment: dt.datetime, now: dt.datetime) -> str:
    """ "10:42", or with the day when that is not today; both on the clock of `now`."""
    there = moment.astimezone(now.tzinfo)
    if there.date() == now.date():
        return f"{there:%H:%M}"
    when = {"time": f"{there:%H:%M}", "day": date_format(there.date(), _("j F"))}
    return _("%(time)s on %(day)s") % when


def title(step: StepRow) -> str:
    """The step's title in the language that is on."""
    return step.title_in(get_language() or "en")


def wait_end(start: dt.datetime, minutes: int) -> dt.datetime:
    """When a wait begun at `start` is over: after so many minutes, to the second.

    In UTC: minutes added on the school's clock would be an hour more or less where it changes
    to summer time or back.
    """
    return start.astimezone(dt.UTC) + dt.timedelta(minutes=minutes)


def clock_at_end(end: dt.datetime, now: dt.datetime) -> str:
    """When a wait is over, said in whole minutes: never before it is."""
    return clock(full_minute(end), now)


def _metal(on: Situation) -> list[Obstacle]:
    stage = Project.Stage
    if on.stage == stage.AT_BENCH:
        return []
    if on.stage == stage.MADE:
        text = _("Every step is signed: this project is made.")
    elif on.stage == stage.CLOSED:
        text = _("This project is closed.")
    else:
        text = _("The metal has not been handed out yet. A teacher does that from the cut plan.")
    return [Obstacle(Rule.METAL, text)]


def _permits(step: BenchStep, on: Situation) -> list[Obstacle]:
    text = _(
        "“%(step)s” needs the bench permit “%(permit)s”, which %(student)s does not hold today. A "
        "teacher gives it after watching the work."
    )
    return on.without_permits(step, text, student=step.project.student)
