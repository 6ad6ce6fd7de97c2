"""The steps of a shared stock piece: made when its metal is handed out, then started, signed,
checked, sent back, or let through with a reason.

Any student whose pieces lie on it does them, with the permits, or a teacher of the course. Every
verb holds the stock piece's row, asks `stock_rules`, changes the step by compare-and-swap, and
writes one sign-off with the wording that was shown and one history row. A second tap finds the
work done and changes nothing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.metals import Say
from studio.core.bench.planned import PlannedBenchStep
from studio.core.bench.steps import steps_for
from studio.core.bench.texts import BenchStepKind
from studio.models import Brief, PlanStock, StockStep
from studio.queries.shared_stock import SharedStock, stock_with_shares
from studio.steps.bench.begin import Words, worded
from studio.steps.bench.moves import (
    begin,
    last_sign_off,
    reason_of,
    refuse_late,
    require_teacher,
    sign_off,
    swap,
)
from studio.steps.bench.obstacles import Obstacle, Rule
from studio.steps.bench.rules import title
from studio.steps.bench.wording import school_words

from . import holding, stock_rules
from .stock_moves import Kind, hold_step
from .stock_rules import StockSituation

ONCE_FOR_ALL = (BenchStepKind.PREPARE, BenchStepKind.ADHERE, BenchStepKind.DRY)


@transaction.atomic
def make_stock_steps(
    plan_stock: PlanStock, kinds: Collection[str] = ONCE_FOR_ALL, words: Words | None = None
) -> list[StockStep]:
    """The stock piece's own steps of these kinds in order; made once, found on every later call.

    Without `words` they are the bench's, in the school's newest words: the longest of the briefs'
    drying times, and a teacher's check wherever one of the briefs asks for it. Raises Refused
    where they cannot be made.
    """
    made = list(plan_stock.steps.order_by("number"))
    if made:
        return made
    said = words or _bench_words(plan_stock, kinds)
    return StockStep.objects.bulk_create(
        StockStep(plan_stock=plan_stock, **fields) for fields in worded(said)
    )


@transaction.atomic
def start(step: StockStep, *, acting: User) -> StockStep:
    """Begin the step; for drying the waiting time begins with it.

    Starting a step that is under way or done changes nothing. Raises Refused for anybody whose
    pieces do not lie here, and while the step before is open or a permit is not in force.
    """
    here, on = hold_step(step, acting)
    require_part(stock_with_shares(here.plan_stock), acting)
    if here.started_at is not None or here.done_at is not None:
        return here
    _refuse(stock_rules.to_start(here, on))
    begin(here, on.now)
    sign_off(here, Kind.STARTED, acting, on.now)
    _record(here, acting, "stock-step-started", f"started “{here.title}” of {on.code}")
    return here


@transaction.atomic
def sign(step: StockStep, *, acting: User, started: dt.datetime | None = None) -> StockStep:
    """Sign that the step is done as described.

    Where a teacher signs too and a student has signed, it waits for the check; else it is done.
    Signing twice changes nothing. `started` is the start that the page showed: a form that comes
    late is refused. Raises Refused before its start, before its time, without a permit, and while
    somebody's papers are not stuck on.
    """
    here, on = hold_step(step, acting)
    require_part(stock_with_shares(here.plan_stock), acting)
    if here.student_signed_at is not None or here.done_at is not None:
        return here
    refuse_late(here, started)
    _refuse(stock_rules.to_finish(here, on))
    signed(here, on, acting)
    return here


def signed(here: StockStep, on: StockSituation, acting: User) -> None:
    """Sign the held step as done, inside the caller's transaction."""
    swap(here, {"student_signed_at": None, "done_at": None}, student_signed_at=on.now)
    sign_off(here, Kind.DONE, acting, on.now)
    if acting.is_teacher or not here.teacher_signs:
        _finish(here, on, acting)
    _record(here, acting, "stock-step-signed", f"signed “{here.title}” of {on.code} as done")


@transaction.atomic
def check(step: StockStep, *, acting: User, seen: dt.datetime | None = None) -> StockStep:
    """The teacher has looked at what was signed, and signs it too.

    `seen` is the time of the sign-off that was looked at; signed anew since, the check is refused.
    Checking twice changes nothing. Raises Refused while nobody has signed.
    """
    here, on = hold_step(step, acting)
    require_teacher(here.plan_stock.plan.course, acting)
    if here.done_at is not None:
        return here
    _refuse(stock_rules.to_check(here, on))
    if seen is not None and here.student_signed_at != seen:
        text = _(
            "“%(step)s” of %(code)s has been sent back and signed anew since this page was loaded. "
            "Look at it again."
        )
        raise Refused(text % {"step": title(here), "code": on.code})
    sign_off(here, Kind.CHECKED, acting, on.now)
    _finish(here, on, acting)
    _record(here, acting, "stock-step-checked", f"checked “{here.title}” of {on.code}")
    return here


@transaction.atomic
def send_back(step: StockStep, *, acting: User, reason: str) -> StockStep:
    """The teacher opens a signed step again, and says what is to be done better.

    It is started anew: a waiting time begins anew, and all papers are signed for anew. Sending
    back twice changes nothing. Raises Refused without a reason, once the next step has been
    started, and once a student has begun to work on this metal.
    """
    here, on = hold_step(step, acting)
    require_teacher(here.plan_stock.plan.course, acting)
    why = reason_of(reason, _("Say what is to be done better: the students read it."))
    if here.started_at is None and here.done_at is None and last_sign_off(here) == Kind.SENT_BACK:
        return here
    refused = stock_rules.to_send_back(here, on)
    if refused:
        raise Refused(" ".join(refused))
    swap(
        here,
        {"started_at": here.started_at, "student_signed_at": here.student_signed_at},
        started_at=None,
        wait_until=None,
        student_signed_at=None,
        done_at=None,
    )
    sign_off(here, Kind.SENT_BACK, acting, on.now, reason=why)
    text = f"sent “{here.title}” of {on.code} back"
    _record(here, acting, "stock-step-sent-back", text, why=why)
    return here


@transaction.atomic
def override(step: StockStep, *, acting: User, reason: str, mark_done: bool = False) -> StockStep:
    """A teacher sets aside the rules that stand in the step's way, with a reason.

    Without `mark_done` work can go on; with it the step is done, whatever was signed. Raises
    Refused without a reason, when nothing stands in the way, without metal, and for marking a step
    done while somebody's papers are missing: they are stuck on, or their owner is left out.
    """
    here, on = hold_step(step, acting)
    require_teacher(here.plan_stock.plan.course, acting)
    why = reason_of(reason, _("Give the reason: it is kept with the metal."))
    if here.done_at is not None:
        return here
    in_the_way = (
        stock_rules.to_mark_done(here, on)
        if mark_done
        else stock_rules.set_aside_by_going_on(here, on)
    )
    _refuse([one for one in in_the_way if not one.rule.may_be_set_aside])
    if not in_the_way:
        if last_sign_off(here) == Kind.OVERRIDE:
            return here  # the second tap of the same button
        text = _("Nothing stands in the way of “%(step)s”: sign or check it instead.")
        raise Refused(text % {"step": title(here)})
    if here.started_at is None:
        begin(here, on.now)
    if not mark_done and any(one.rule is Rule.WAIT for one in in_the_way):
        swap(here, {"wait_until": here.wait_until}, wait_until=on.now)
    names = [one.name for one in in_the_way]
    sign_off(here, Kind.OVERRIDE, acting, on.now, reason=why, set_aside=names)
    if mark_done:
        _finish(here, on, acting)
    text = f"lifted a rule for “{here.title}” of {on.code} ({', '.join(names)})"
    _record(here, acting, "stock-step-override", text, rules=names, why=why)
    return here


def require_part(stock: SharedStock, acting: User) -> None:
    """Refuse whoever has no pieces on this metal and does not teach the course."""
    if acting.is_student and any(
        share.project.seat.student_id == acting.pk for share in stock.live
    ):
        return
    if acting.is_teacher and stock.plan_stock.plan.course.teachers.filter(pk=acting.pk).exists():
        return
    raise Refused(_("Only students whose pieces lie on this metal, or their teacher, do that."))


def _finish(here: StockStep, on: StockSituation, acting: User) -> None:
    """The step is done; after the last one the metal goes to whoever has the first turn."""
    swap(here, {"done_at": None}, done_at=on.now)
    if here.kind == BenchStepKind.DRY and on.current is None:
        holding.first_holder(here.plan_stock, acting=acting, now=on.now)


def _bench_words(plan_stock: PlanStock, kinds: Collection[str]) -> Words:
    stock = stock_with_shares(plan_stock)
    briefs = {share.project.brief_id: share.project.brief for share in stock.live}
    metal, school = plan_stock.plan.metal, plan_stock.plan.course.school

    def words(language: str, say: Say) -> Sequence[PlannedBenchStep]:
        try:
            steps = steps_for(
                metal.alloy_code,
                metal.thickness_mm,
                dry_minutes=max(brief.dry_minutes for brief in briefs.values()),
                teacher_signs=_checked_kinds(briefs.values()),
                words=school_words(school, language),
                say=say,
            )
        except ValueError as error:  # every refusal of the pure tables is one
            raise Refused(
                f"The steps of {plan_stock.stock_piece} cannot be made: {error} Change the brief, "
                "then hand the metal out."
            ) from error
        return [step for step in steps if step.kind in kinds]

    return words


def _checked_kinds(briefs: Collection[Brief]) -> list[str]:
    """The kinds that a teacher checks by any of the briefs."""
    return sorted({kind for brief in briefs for kind in brief.teacher_signs})


def _refuse(obstacles: Sequence[Obstacle]) -> None:
    if obstacles:
        raise Refused(" ".join(one.text for one in obstacles))


def _record(here: StockStep, acting: User, verb: str, text: str, **more: Any) -> None:
    record(acting, verb, here.plan_stock.plan, text, step=here.pk, **more)
