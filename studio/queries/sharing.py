"""Steps of shared stock pieces that a person may see, and what waits to be parted for one."""

from __future__ import annotations

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import User
from classroom.queries import seats_for
from inventory.models import StockPiece
from studio.models import CutPlan, PartEntry, PlanProject, StockStep

from .plans import plans_for

PART = "part"


def part_steps_for(user: User) -> QuerySet[StockStep]:
    """The steps by which stock pieces of the person's plans are parted, those first whose metal
    has been out longest."""
    return (
        StockStep.objects.filter(kind=PART, plan_stock__plan__in=plans_for(user).values("pk"))
        .select_related(
            "plan_stock__plan__course__school",
            "plan_stock__plan__metal",
            "plan_stock__stock_piece__metal",
        )
        .order_by("plan_stock__plan__issued_at", "plan_stock__stock_piece__code", "pk")
    )


def part_step_for(user: User, pk: int) -> StockStep:
    return get_object_or_404(part_steps_for(user), pk=pk)


def part_entry_for(user: User, pk: int) -> PartEntry:
    """What came out of parting, of the person's plans, as far as no later entry corrects it."""
    entries = PartEntry.objects.filter(
        corrected_by=None, plan_stock__plan__in=plans_for(user).values("pk")
    ).select_related("plan_stock__plan__course__school", "plan_stock__stock_piece", "made__metal")
    return get_object_or_404(entries, pk=pk)


def parts_waiting(user: User) -> QuerySet[StockStep]:
    """Metal that is handed out and still to be parted: of a teacher's courses, or with pieces of
    the student's on it. Where a student may not part it, nothing waits for that student."""
    waiting = part_steps_for(user).filter(
        done_at=None, plan_stock__plan__state=CutPlan.State.ISSUED
    )
    if user.is_teacher:
        return waiting
    mine = PlanProject.objects.filter(live=True, project__seat__in=seats_for(user))
    return (
        waiting.filter(plan_stock__plan__shares__in=mine).exclude(wording__tool="power").distinct()
    )


def parts_made_of(plan: CutPlan) -> list[StockPiece]:
    """The stock pieces that parting has made of this plan's metal, or, of a student's own plan,
    those of its blanks; by label."""
    entries = PartEntry.objects.filter(
        Q(plan_stock__plan=plan) | Q(made__reservations__plan=plan), corrected_by=None
    )
    return list(
        StockPiece.objects.filter(part_entries__in=entries)
        .select_related("metal")
        .distinct()
        .order_by("code")
    )
