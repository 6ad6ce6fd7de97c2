"""Everybody's papers go onto shared metal on the same day: each signs for own ones.

For somebody who is away the teacher names who sticks them on, or leaves the student out of the
plan: the pattern is then approved and without a plan, as before, and nothing of the metal is its.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.models import TopicWording, User, record
from classroom.refusals import Refused
from classroom.safety.permits import missing_permits
from classroom.safety.topics import wordings_for
from studio.core.bench.texts import BenchStepKind
from studio.models import (
    BenchStep,
    CutPlan,
    PlanProject,
    PlanStock,
    Project,
    SignOff,
    StockStep,
    TabletDeed,
)
from studio.queries.shared_stock import shared_stock_of, stock_with_shares
from studio.steps.bench.moves import reason_of, refuse_late, require_teacher, sign_off
from studio.steps.bench.rules import title

from . import holding, stock_rules
from .stock_moves import Kind, hold_step, hold_stock, stock_situation, stuck_shares
from .stock_rules import StockSituation
from .stock_steps import require_part, signed


@transaction.atomic
def stick(
    step: StockStep, share: PlanProject, *, acting: User, started: dt.datetime | None = None
) -> StockStep:
    """A student signs that own papers are stuck on; after the last one the step is signed.

    Signing twice changes nothing. `started` is the start that the page showed. Raises Refused for
    anybody else's papers, before the step is started, and without the permit.
    """
    here, on = hold_step(step, acting)
    stock = stock_with_shares(here.plan_stock)
    require_part(stock, acting)
    own = next((one for one in stock.live if one.pk == share.pk), None)
    if own is None or own.project.seat.student_id != acting.pk:
        raise Refused(_("Each student signs for own papers; for others a teacher names somebody."))
    _require_sticking(here)
    if here.student_signed_at is not None or share.pk in stuck_shares([here]):
        return here
    refuse_late(here, started)
    _refuse(here, on)
    sign_off(here, Kind.STUCK, acting, on.now, share=own)
    record(
        acting,
        "papers-stuck",
        here.plan_stock.plan,
        f"stuck own papers on {on.code}",
        step=here.pk,
        share=own.pk,
    )
    _signed_when_all_are_on(here, acting)
    return here


@transaction.atomic
def stand_in(
    step: StockStep, share: PlanProject, by: User, *, acting: User, reason: str
) -> StockStep:
    """The teacher signs that somebody else has stuck on the papers of a student who is away.

    `by` is a student of the course with the permit, or a teacher of it. Doing it twice changes
    nothing. Raises Refused without a reason, before the step is started, and for anybody else.
    """
    here, on = hold_step(step, acting)
    require_teacher(here.plan_stock.plan.course, acting)
    why = reason_of(reason, _("Say why somebody else sticks these papers on."))
    stock = stock_with_shares(here.plan_stock)
    away = next((one for one in stock.live if one.pk == share.pk), None)
    if away is None:
        raise Refused(_("These papers do not belong on this metal any more. Load the page again."))
    _require_sticking(here)
    if here.student_signed_at is not None or share.pk in stuck_shares([here]):
        return here
    _may_stand_in(here, by, on)
    _refuse(here, on)
    sign_off(here, Kind.STUCK, acting, on.now, reason=why, share=away, stand_in=by)
    record(
        acting,
        "papers-stuck-by-another",
        here.plan_stock.plan,
        f"let {by} stick the papers of {away.project.student} on {on.code}",
        step=here.pk,
        share=away.pk,
        why=why,
    )
    _signed_when_all_are_on(here, acting)
    return here


@transaction.atomic
def leave_out(share: PlanProject, *, acting: User, reason: str) -> PlanProject:
    """The teacher leaves a student out of a plan whose metal is passed on.

    The share lives no more, nothing lies on the metal for it, and its pattern is approved and
    without a plan. Leaving out twice changes nothing. Raises Refused without a reason, for another
    kind of plan, and once the student has begun a step of own.
    """
    # First the plan, then the project, then the metal: as whoever closes the plan.
    plan = (
        CutPlan.objects.select_for_update(of=("self",), no_key=True)
        .select_related("course__school", "metal")
        .defer("job", "answer")
        .get(pk=share.plan_id)
    )
    Project.objects.select_for_update(of=("self",)).get(pk=share.project_id)
    require_teacher(plan.course, acting)
    why = reason_of(reason, _("Say why the student is left out: it is kept with the plan."))
    here = PlanProject.objects.select_related("project__seat__student").get(pk=share.pk)
    if here.left_out_at is not None:
        return here
    if plan.state != CutPlan.State.ISSUED or plan.way != CutPlan.Way.PASSED or not here.live:
        raise Refused(_("Students are left out of metal that is passed on, while it is out."))
    stock = [one for one in shared_stock_of([plan.pk]) if _is_on(here, one.shares)]
    if not stock:
        raise Refused(_("%(student)s shares no metal in this plan.") % _named(here))
    held = [hold_stock(one.plan_stock) for one in stock]
    _nothing_begun(here)
    now = stock_situation(stock[0], acting).now
    PlanProject.objects.filter(pk=here.pk, live=True).update(
        live=False, left_out_at=now, left_out_by=acting, left_out_why=why
    )
    Project.objects.filter(pk=here.project_id, stage=Project.Stage.AT_BENCH).update(
        stage=Project.Stage.PATTERN_APPROVED, stage_since=now
    )
    BenchStep.objects.filter(project=here.project_id).delete()  # nobody has begun or signed any
    record(acting, "left-out", plan, f"left {here.project.student} out", share=here.pk, why=why)
    record(acting, "left-out", here.project, f"left out of {plan}", why=why)
    here.refresh_from_db()
    for one in held:
        _go_on_without(here, one, acting)
    return here


def _go_on_without(share: PlanProject, held: PlanStock, acting: User) -> None:
    """The others wait no more for those papers, nor for metal in those hands."""
    step = held.steps.filter(kind=BenchStepKind.ADHERE).first()
    if step is not None:
        step.plan_stock = held
        _signed_when_all_are_on(step, acting)
    newest = holding.newest_row(held)
    if newest is not None and newest.share_id == share.pk:
        following = holding.next_in_turn(stock_with_shares(held))
        holding.hand_on(held, following, acting=acting)


def _signed_when_all_are_on(step: StockStep, acting: User) -> None:
    """With the last papers on, the step is signed by whoever brought that about."""
    stock = stock_with_shares(step.plan_stock)
    on = stock_situation(stock, acting)
    here = next(one for one in on.steps if one.pk == step.pk)
    if here.started_at is None or here.student_signed_at is not None or here.done_at is not None:
        return
    if not on.not_stuck and stock.live:
        signed(here, on, acting)
    for name in ("student_signed_at", "done_at"):
        setattr(step, name, getattr(here, name))


def _require_sticking(step: StockStep) -> None:
    if step.kind != BenchStepKind.ADHERE:
        raise Refused(_("No papers are stuck on in “%(step)s”.") % {"step": title(step)})


def _refuse(step: StockStep, on: StockSituation) -> None:
    found = stock_rules.to_stick(step, on)
    if found:
        raise Refused(" ".join(one.text for one in found))


def _may_stand_in(step: StockStep, by: User, on: StockSituation) -> None:
    course = step.plan_stock.plan.course
    if by.is_teacher and course.teachers.filter(pk=by.pk).exists():
        return
    sits = course.seats.filter(student=by, left_at=None, student__is_active=True).exists()
    if not by.is_student or not sits:
        raise Refused(_("Name a student of this course, or do it yourself."))
    missing = missing_permits(by, set(step.permits), on.now.date())
    if missing:
        words = wordings_for(missing, get_language() or "en")
        text = _("%(student)s does not hold the bench permit “%(permit)s” today.")
        raise Refused(text % {"student": str(by), "permit": _titles(words, missing[0].pk)})


def _titles(words: dict[int, TopicWording], pk: int) -> str:
    return str(words[pk].title)


def _nothing_begun(share: PlanProject) -> None:
    steps = BenchStep.objects.filter(project=share.project_id)
    signed_before = SignOff.objects.filter(step__in=steps).exists()
    if signed_before or TabletDeed.objects.filter(step__in=steps).exists():
        text = _(
            "%(student)s has begun own steps, so the metal is partly theirs. Give the project up "
            "when the metal comes back."
        )
        raise Refused(text % _named(share))


def _is_on(share: PlanProject, shares: tuple[PlanProject, ...]) -> bool:
    return any(one.pk == share.pk for one in shares)


def _named(share: PlanProject) -> dict[str, str]:
    return {"student": str(share.project.student)}
