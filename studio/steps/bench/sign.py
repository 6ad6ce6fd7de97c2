"""Bench steps are started, signed, checked, sent back, or let through with a reason.

Every verb holds the project's row, reads the steps anew and asks `bench_rules`; then it changes
the step by compare-and-swap, writes one sign-off naming the wording that was shown (that of the
language which is on), and one history row. A second tap finds the work done and changes nothing.
What is refused is refused in sentences that say what is missing and who can help.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import BenchStep, Project, SignOff
from studio.steps.at_work import HAS_LEFT

from . import rules as bench_rules
from .moves import (
    begin,
    finish,
    hold,
    is_open,
    last_sign_off,
    move,
    reason_of,
    refuse_late,
    require_teacher,
    sign_off,
    swap,
)
from .rules import Obstacle, Rule, Situation

Kind = SignOff.Kind


@transaction.atomic
def start_step(step: BenchStep, *, acting: User) -> BenchStep:
    """The student begins the step; for drying and soaking the waiting time begins with it.

    Starting a step that is under way or done changes nothing. Raises Refused while the metal is
    not handed out, the step before is open or a permit is not in force.
    """
    _require_student(step, acting)
    here, on = hold(step)
    if here.started_at is not None or here.done_at is not None:
        return here
    _refuse(bench_rules.to_start(here, on))
    begin(here, on.now)
    sign_off(here, Kind.STARTED, acting, on.now)
    record(acting, "step-started", here.project, f"started “{here.title}”", step=here.pk)
    return here


@transaction.atomic
def sign_done(step: BenchStep, *, acting: User, started: dt.datetime | None = None) -> BenchStep:
    """The student signs that the step is done as described.

    Where a teacher signs too it then waits for the check; else it is done, and after the last
    step the project is made. Signing twice changes nothing. `started` is the start that the
    page showed: a form that comes late, when the step has been sent back and started anew, is
    refused. Raises Refused before the step is
    started, before its time, or when a permit has run out or been withdrawn meanwhile.
    """
    _require_student(step, acting)
    here, on = hold(step)
    if here.student_signed_at is not None or here.done_at is not None:
        return here
    refuse_late(here, started)
    _refuse(bench_rules.to_finish(here, on))
    swap(here, {"student_signed_at": None, "done_at": None}, student_signed_at=on.now)
    sign_off(here, Kind.DONE, acting, on.now)
    if not here.teacher_signs:
        finish(here, on)
    record(acting, "step-signed", here.project, f"signed “{here.title}” as done", step=here.pk)
    return here


@transaction.atomic
def check_step(step: BenchStep, *, acting: User, seen: dt.datetime | None = None) -> BenchStep:
    """The teacher has looked at what the student signed, and signs it too.

    `seen` is the time of the student's sign-off that the teacher looked at; when the step has
    been sent back and signed anew since then, the check is refused. Checking twice changes
    nothing. Raises Refused while the student has not signed.
    """
    require_teacher(step.project.seat.course, acting)
    here, on = hold(step)
    if here.done_at is not None:
        return here
    _refuse(bench_rules.to_check(here, on))
    if seen is not None and here.student_signed_at != seen:
        text = _(
            "“%(step)s” of %(student)s has been sent back and signed anew since this page was "
            "loaded. Look at it again."
        )
        raise Refused(text % _names(here))
    sign_off(here, Kind.CHECKED, acting, on.now)
    finish(here, on)
    record(acting, "step-checked", here.project, f"checked “{here.title}”", step=here.pk)
    return here


@dataclass(slots=True)
class Checked:
    """What became of several checks: the steps signed, and the sentences of those refused."""

    signed: list[BenchStep] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


def check_steps(steps: Iterable[tuple[BenchStep, dt.datetime | None]], *, acting: User) -> Checked:
    """Check each of the steps (with the sign-off seen) by itself: one refusal spoils no other."""
    outcome = Checked()
    for step, seen in steps:
        try:
            outcome.signed.append(check_step(step, acting=acting, seen=seen))
        except Refused as refusal:
            outcome.refused.append(str(refusal))
    return outcome


@transaction.atomic
def send_back(step: BenchStep, *, acting: User, reason: str) -> BenchStep:
    """The teacher opens a signed step again, and says what is to be done better.

    It has to be started anew, so a waiting time begins anew too. Works until the next step has
    been started; sending back twice changes nothing. Raises Refused without a reason.
    """
    require_teacher(step.project.seat.course, acting)
    why = reason_of(reason, _("Say what is to be done better: the student reads it."))
    here, on = hold(step)
    if is_open(here) and last_sign_off(here) == Kind.SENT_BACK:
        return here
    _refuse_all(bench_rules.to_send_back(here, on))
    swap(
        here,
        {"started_at": here.started_at, "student_signed_at": here.student_signed_at},
        started_at=None,
        wait_until=None,
        student_signed_at=None,
        done_at=None,
    )
    sign_off(here, Kind.SENT_BACK, acting, on.now, reason=why)
    if on.stage == Project.Stage.MADE:
        move(here.project, Project.Stage.MADE, Project.Stage.AT_BENCH, on.now)
    record(
        acting, "step-sent-back", here.project, f"sent “{here.title}” back", step=here.pk, why=why
    )
    return here


@transaction.atomic
def override_step(
    step: BenchStep, *, acting: User, reason: str, mark_done: bool = False
) -> BenchStep:
    """A teacher sets aside the rules that stand in the step's way, with a reason.

    Without `mark_done` the student can go on: a step that may not be started is started, a
    waiting time that runs ends. With it the step is done, whatever the student has signed. The
    sign-off and the history name every rule that was set aside. Raises Refused without a
    reason, when nothing stands in the way, while there is no metal, and while shared metal is not
    ready or another's: that is put right at the metal.
    """
    require_teacher(step.project.seat.course, acting)
    why = reason_of(reason, _("Give the reason: it is kept with the project."))
    here, on = hold(step)
    if here.done_at is not None:
        return here
    if mark_done:
        return _mark_done(here, on, acting, why)
    in_the_way = bench_rules.set_aside_by_going_on(here, on)
    _refuse([one for one in in_the_way if not one.rule.may_be_set_aside])
    if not in_the_way:
        if last_sign_off(here) == Kind.OVERRIDE:
            return here  # the second tap of the same button
        text = _("Nothing stands in the way of “%(step)s”: the student can go on.")
        raise Refused(text % _names(here))
    if here.started_at is None:
        begin(here, on.now)
    if any(one.rule is Rule.WAIT for one in in_the_way):
        swap(here, {"wait_until": here.wait_until}, wait_until=on.now)
    _set_aside(here, in_the_way, acting, on.now, why)
    return here


def _mark_done(here: BenchStep, on: Situation, acting: User, why: str) -> BenchStep:
    in_the_way = bench_rules.to_mark_done(here, on)
    _refuse([one for one in in_the_way if not one.rule.may_be_set_aside])
    if not in_the_way:
        text = _("%(student)s has signed “%(step)s”: check it instead.")
        raise Refused(text % _names(here))
    if here.started_at is None:
        begin(here, on.now)
    _set_aside(here, in_the_way, acting, on.now, why)
    finish(here, on)
    return here


def _set_aside(
    here: BenchStep, obstacles: list[Obstacle], acting: User, now: dt.datetime, why: str
) -> None:
    names = [one.name for one in obstacles]
    sign_off(here, Kind.OVERRIDE, acting, now, reason=why, set_aside=names)
    record(
        acting,
        "step-override",
        here.project,
        f"lifted a rule for “{here.title}” ({', '.join(names)})",
        step=here.pk,
        rules=names,
        why=why,
    )


def _require_student(step: BenchStep, acting: User) -> None:
    if not acting.is_student or step.project.seat.student_id != acting.pk:
        raise Refused(_("Only the student whose project this is starts and signs its steps."))
    if step.project.seat.left_at is not None:
        raise Refused(_(HAS_LEFT))


def _names(here: BenchStep) -> dict[str, str]:
    return {"step": bench_rules.title(here), "student": str(here.project.student)}


def _refuse(obstacles: list[Obstacle]) -> None:
    _refuse_all([one.text for one in obstacles])


def _refuse_all(sentences: list[str]) -> None:
    if sentences:
        raise Refused(" ".join(sentences))
