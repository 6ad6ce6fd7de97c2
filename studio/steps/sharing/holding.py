"""In whose hands shared metal is, since when, and whose turn is next.

The rows are only ever added; the newest counts. A teacher hands the metal on, nobody else; the
first to have it is, when the papers are dry, whoever has the first turn.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, CutPlan, MetalHolder, PlanProject, PlanStock, SignOff
from studio.queries.shared_stock import SharedStock, stock_with_shares
from studio.steps.bench.moves import reason_of, require_teacher
from studio.steps.bench.shared_metal import newest_holders
from studio.steps.bench.situation import school_now

from .stock_moves import hold_stock

AWAY_SCHOOL_DAYS = 3
"""Whoever has the metal and signs nothing for so many school days is shown to the teacher."""
FRIDAY = 4


@dataclass(frozen=True, slots=True)
class Holding:
    """Who has the metal since when; with no share it lies on the shelf. `away` is how many school
    days have passed since anything was signed on it."""

    share: PlanProject | None
    since: dt.datetime
    away: int = 0

    @property
    def is_away(self) -> bool:
        return self.share is not None and self.away >= AWAY_SCHOOL_DAYS


@transaction.atomic
def hand_on(
    plan_stock: PlanStock,
    to: PlanProject | None,
    *,
    acting: User,
    reason: str = "",
    seen: int | None = None,
) -> MetalHolder:
    """Hand the metal to a student of its plan, or lay it back on the shelf (`to` None).

    `seen` is the newest entry (its pk, 0 for none) that the page showed; handed on since then, a
    form is refused, but for one that asks for what is so already. Who has sawn all own pieces out
    gets the metal again only with a reason. Raises Refused for anybody but a teacher of the
    course, before the papers are dry, and for a student who is not on this metal.
    """
    held = hold_stock(plan_stock)
    require_teacher(held.plan.course, acting)
    if held.plan.state != CutPlan.State.ISSUED or held.plan.way != CutPlan.Way.PASSED:
        text = _("%(code)s is not passed on from hand to hand.")
        raise Refused(text % {"code": held.stock_piece.code})
    stock = stock_with_shares(held)
    newest = newest_row(held)
    if newest is not None and newest.share_id == (to.pk if to is not None else None):
        return newest  # the second tap of the same button
    if seen is not None and seen != (newest.pk if newest is not None else 0):
        raise Refused(_("Somebody else has just handed this metal on. Look at it again."))
    if held.steps.filter(done_at=None).exists():
        text = _("The steps of %(code)s for all are not done yet; then it is handed on.")
        raise Refused(text % {"code": held.stock_piece.code})
    why = " ".join(reason.split())
    if to is not None:
        why = _may_get(stock, to, why)
    return _entry(held, to, acting, school_now(held.plan.course.school), why[:200])


def first_holder(plan_stock: PlanStock, *, acting: User, now: dt.datetime) -> MetalHolder | None:
    """The papers are dry: the metal goes to whoever has the first turn, unless somebody has it."""
    newest = newest_row(plan_stock)
    if newest is not None and newest.share_id is not None:
        return newest
    first = next_in_turn(stock_with_shares(plan_stock))
    return _entry(plan_stock, first, acting, now, "") if first is not None else None


def current_holder(plan_stock: PlanStock) -> Holding | None:
    """Who has the metal now; None where nobody was named yet."""
    return holdings([stock_with_shares(plan_stock)]).get(plan_stock.pk)


def holdings(stock: Sequence[SharedStock]) -> dict[int, Holding]:
    """Who has each of these (by the plan's stock piece), with a constant number of queries."""
    rows = newest_holders(stock)
    signed = {
        (project, by): at
        for project, by, at in SignOff.objects.filter(
            step__project__plan_shares__in=[row.share_id for row in rows.values()]
        )
        .values_list("step__project", "by")
        .annotate(last=Max("at"))
        .values_list("step__project", "by", "last")
    }
    found = {}
    for one in stock:
        if one.plan_stock.pk not in rows:
            continue
        row = rows[one.plan_stock.pk]
        share = next((each for each in one.shares if each.pk == row.share_id), None)
        away = 0
        if share is not None:
            now = school_now(one.plan_stock.plan.course.school)
            last = signed.get((share.project_id, share.project.seat.student_id), row.at)
            away = school_days_between(max(last, row.at).astimezone(now.tzinfo).date(), now.date())
        found[one.plan_stock.pk] = Holding(share, row.at, away)
    return found


def next_in_turn(
    stock: SharedStock, after: PlanProject | None = None, sawn: set[int] | None = None
) -> PlanProject | None:
    """Who saws next: the lowest turn of those who are not done (not among the projects `sawn`),
    other than who has it now."""
    if sawn is None:
        sawn = sawn_projects([stock])
    waiting = (
        one
        for one in stock.live
        if one.project_id not in sawn and (after is None or one.pk != after.pk)
    )
    return min(waiting, key=lambda one: (one.turn or 10_000, one.pk), default=None)


def sawn_projects(stock: Sequence[SharedStock]) -> set[int]:
    """Projects whose pieces are all sawn out."""
    projects = {share.project_id for one in stock for share in one.shares}
    done = BenchStep.objects.filter(
        project__in=projects, kind=BenchStepKind.SAW, done_at__isnull=False
    )
    return set(done.values_list("project", flat=True))


def newest_row(plan_stock: PlanStock) -> MetalHolder | None:
    return plan_stock.holders.order_by("at", "pk").last()


def school_days_between(start: dt.date, end: dt.date) -> int:
    """School days, Monday to Friday, after `start` up to `end`: from Friday to Monday is one."""
    days = min((end - start).days, 400)
    inside = (start + dt.timedelta(days=n) for n in range(1, days + 1))
    return sum(day.weekday() <= FRIDAY for day in inside)


def _may_get(stock: SharedStock, to: PlanProject, why: str) -> str:
    """The reason as it is kept. Raises Refused where this metal is nothing to this student."""
    here = next((one for one in stock.shares if one.pk == to.pk), None)
    code = stock.plan_stock.stock_piece.code
    if here is None:
        text = _("No pieces of this student lie on %(code)s.")
        raise Refused(text % {"code": code})
    names = {"student": str(here.project.student), "code": code}
    if not here.live:
        raise Refused(_("%(student)s was left out: no pieces of theirs are on %(code)s.") % names)
    if here.project.seat.left_at is not None:
        raise Refused(_("%(student)s has left the course.") % names)
    if here.project_id in sawn_projects([stock]):
        text = _(
            "%(student)s has sawn all own pieces out of %(code)s. Say why it goes there again."
        )
        return reason_of(why, text % names)
    return why


def _entry(
    held: PlanStock, to: PlanProject | None, acting: User, now: dt.datetime, why: str
) -> MetalHolder:
    code = held.stock_piece.code
    row = MetalHolder.objects.create(plan_stock=held, share=to, by=acting, at=now, reason=why)
    text = f"laid {code} on the shelf"
    if to is not None:
        project = PlanProject.objects.select_related("project__seat__student").get(pk=to.pk).project
        text = f"handed {code} to {project.student}"
    record(acting, "metal-handed-on", held.plan, text, holder=row.pk, why=why)
    return row
