"""Which students' pieces lie together on a stock piece, by what plans have placed.

The number of queries does not grow with the plans, and outlines are never read for it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404
from shapely.geometry import Polygon

from classroom.models import Course, User
from studio.core.cutting import Job
from studio.core.cutting.job import Wanted
from studio.core.picturing.plan import labels_of
from studio.models import (
    CutPlan,
    MetalHolder,
    PlanProject,
    PlanStock,
    StockSignOff,
    StockStep,
)

from .plans import plans_for


@dataclass(frozen=True, slots=True)
class SharedStock:
    """A live stock piece of a plan that carries pieces of several students, with their shares in
    the order of their turns; those left out are among them, not live."""

    plan_stock: PlanStock
    shares: tuple[PlanProject, ...]

    @property
    def live(self) -> tuple[PlanProject, ...]:
        """Shares of students who still work on it; whoever has left the course does not."""
        return tuple(one for one in self.shares if one.live and one.project.seat.left_at is None)


def shared_stock_of(
    plans: Collection[int], *, least: int = 2, held: bool = True
) -> list[SharedStock]:
    """The stock pieces of these plans (by pk) with pieces of `least` students; those that are
    still `held` by them, or all that ever were.

    Plan and stock piece come with each, and student and brief with each share.
    """
    lying = _lying(plans)
    shares: dict[int, list[PlanProject]] = {}
    rows = PlanProject.objects.filter(plan__in=plans).select_related(
        "project__seat__student", "project__brief", "project__seat__course"
    )
    for share in rows.order_by("turn", "pk"):
        shares.setdefault(share.plan_id, []).append(share)
    stock = (
        PlanStock.objects.filter(plan__in=plans, live__in=(True,) if held else (True, False))
        .select_related("stock_piece", "plan__course__school", "plan__metal")
        .defer("plan__job", "plan__answer")
        .order_by("plan", "pk")
    )
    found = []
    for row in stock:
        here = lying.get((row.plan_id, row.stock_piece.code), set())
        on_it = tuple(one for one in shares.get(row.plan_id, ()) if one.pattern_id in here)
        if len(on_it) >= least:
            found.append(SharedStock(row, on_it))
    return found


def passed_stock_for(user: User, pk: int) -> SharedStock:
    """A stock piece that is passed on, for a teacher of its course and for everybody whose pieces
    lie on it; not found for others."""
    stock = PlanStock.objects.filter(plan__in=plans_for(user), plan__way=CutPlan.Way.PASSED)
    row = get_object_or_404(stock.distinct(), pk=pk)
    every = shared_stock_of([row.plan_id], held=False)
    found = next((one for one in every if one.plan_stock.pk == pk), None)
    if found is None or not (user.is_teacher or share_of(user, found)):
        raise Http404
    return found


def share_of(user: User, stock: SharedStock) -> PlanProject | None:
    """The student's own share on this metal; None for a teacher."""
    own = (one for one in stock.shares if one.project.seat.student_id == user.pk)
    return next(own, None) if user.is_student else None


def stock_step_for(user: User, pk: int) -> StockStep:
    """A step that is done once for metal that is passed on."""
    step = get_object_or_404(
        StockStep.objects.select_related("plan_stock").filter(
            plan_stock__plan__way=CutPlan.Way.PASSED
        ),
        pk=pk,
    )
    passed_stock_for(user, step.plan_stock_id)
    return step


def stock_sign_offs(stock: SharedStock) -> QuerySet[StockSignOff]:
    """Who signed what on its steps, newest first."""
    rows = StockSignOff.objects.filter(step__plan_stock=stock.plan_stock)
    return rows.select_related("step", "by", "stand_in", "share").order_by("-at", "-pk")


def holders_in(stock: SharedStock) -> QuerySet[MetalHolder]:
    """In whose hands it has been, newest first."""
    rows = MetalHolder.objects.filter(plan_stock=stock.plan_stock)
    return rows.select_related("by", "share__project__seat__student").order_by("-at", "-pk")


def passed_plans_at_the_bench(user: User, course: Course | None = None) -> list[int]:
    """Plans of the person whose metal is out and passed on, by pk."""
    plans = plans_for(user).filter(
        way=CutPlan.Way.PASSED, state=CutPlan.State.ISSUED, course__closed_at=None
    )
    if course is not None:
        plans = plans.filter(course=course)
    return sorted(plans.values_list("pk", flat=True))


def papers_on(started: Mapping[int, dt.datetime]) -> set[tuple[int, int]]:
    """Steps of the whole stock piece and the shares whose papers are stuck on, since each step (by
    pk) was started."""
    if not started:
        return set()
    rows = StockSignOff.objects.filter(step__in=started, kind=StockSignOff.Kind.STUCK)
    return {
        (row.step_id, row.share_id)
        for row in rows
        if row.share_id is not None and row.at >= started[row.step_id]
    }


def who_may_stick(stock: SharedStock) -> list[User]:
    """Teachers of the course, then its students, who may stick an absent one's papers on."""
    course = stock.plan_stock.plan.course
    seats = course.seats.filter(left_at=None, student__is_active=True)
    students = User.objects.filter(pk__in=seats.values("student"))
    teachers = course.teachers.order_by("display_name", "pk")
    return [*teachers, *students.order_by("display_name", "pk")]


def stock_with_shares(plan_stock: PlanStock) -> SharedStock:
    """This one, with everybody whose pieces lie on it. It is held by its plan."""
    every = shared_stock_of([plan_stock.plan_id], least=0)
    return next(one for one in every if one.plan_stock.pk == plan_stock.pk)


def stock_under(share: PlanProject) -> set[str]:
    """Label codes of the stock pieces on which the share's pieces lie."""
    return {
        code
        for (_, code), patterns in _lying([share.plan_id]).items()
        if share.pattern_id in patterns
    }


def letters_in(plans: Collection[int]) -> dict[tuple[int, str], str]:
    """The letter of each group of each plan, as its pictures have it, by plan and group."""
    found = {}
    rows = CutPlan.objects.filter(pk__in=plans).values_list("pk", "job__pieces")
    for pk, pieces in rows:
        nothing = Polygon()
        wanted = tuple(Wanted(one["id"], nothing, group=one.get("group")) for one in pieces or ())
        for group, letter in labels_of(Job((), wanted)).items():
            found[pk, group] = letter
    return found


def _lying(plans: Iterable[int]) -> dict[tuple[int, str], set[int]]:
    """Patterns by plan and label code: a piece's id begins with its pattern's number."""
    found: dict[tuple[int, str], set[int]] = {}
    rows = CutPlan.objects.filter(pk__in=list(plans)).values_list("pk", "answer__placements")
    for pk, placements in rows:
        for one in placements or ():
            pattern = one["piece"].partition("/")[0]
            if pattern.isdecimal():
                found.setdefault((pk, one["metal"]), set()).add(int(pattern))
    return found
