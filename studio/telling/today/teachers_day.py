"""The teacher's first question: who needs me now?

Reads only. Every answer is a plain sentence with a link to the page where it is done.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils import timezone

from classroom.models import User
from classroom.queries import permits_for, seats_for
from inventory.models import Budget
from inventory.queries import budgets_for, low_supplies_for
from studio.keeping.telling import Trouble, trouble
from studio.models import BenchStep, CutPlan, Pattern, PlacingJob, PlanProject, Project
from studio.queries.bench import bench_steps_for
from studio.queries.patterns import patterns_for, projects_for
from studio.queries.plans import plans_for
from studio.queries.sharing import parts_waiting
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.rules import Phase
from studio.steps.bench.situation import situations
from studio.telling.in_hands import InHands, metal_in_hands

from .setting_up import SettingUp, setting_up

SHOWN = 8
"""Rows under each heading; the heading says how many there are in all."""
PERMIT_WARNING_DAYS = 14
MOST_AT_BENCH = 200
"""Projects at the bench that are looked at; a class has some thirty."""


@dataclass(frozen=True)
class DayRow:
    """One thing that waits: what, whose, and where to deal with it."""

    text: str
    url: str
    note: str = ""
    since: dt.datetime | None = None
    until: dt.datetime | None = None


@dataclass(frozen=True)
class Waiting:
    """One heading of the teacher's first page."""

    title: str
    rows: list[DayRow]
    total: int
    nothing: str
    more_url: str = ""
    more_label: str = ""

    @property
    def more(self) -> str:
        """Words of the link to all of them; "" where the rows below the heading are enough."""
        if not self.more_url:
            return ""
        if self.total > len(self.rows):
            return f"See all {self.total}"
        return self.more_label if self.total > 1 else ""


@dataclass(frozen=True)
class TeachersDay:
    waiting: list[Waiting]
    calm: list[Waiting]
    budgets: list[Budget]
    setting_up: SettingUp | None
    keeping: Trouble | None

    @property
    def nobody_waits(self) -> bool:
        return not any(group.total for group in self.waiting)


def teachers_day(user: User, now: dt.datetime | None = None) -> TeachersDay:
    """What waits for this teacher, what only takes time, and what is left to spend."""
    moment = now or timezone.now()
    in_hands = metal_in_hands(user)
    return TeachersDay(
        waiting=[
            _patterns(user),
            _checks(user),
            _stopped(user),
            _to_part(user),
            _hand_on(in_hands),
            _plans(
                user,
                CutPlan.State.PROPOSED,
                "Cut plans to approve",
                "No plan waits for approval.",
            ),
            _plans(
                user,
                CutPlan.State.PLACING,
                "Placing that broke off",
                "No placing broke off.",
                placing__state=PlacingJob.State.FAILED,
            ),
            _plans(
                user,
                CutPlan.State.APPROVED,
                "Metal to hand out",
                "No metal waits to be handed out.",
            ),
            _returns(user),
            _to_place(user),
        ],
        calm=[
            _drying(user, moment),
            _permits(user, moment),
            _supplies(user),
            _in_hands(in_hands),
        ],
        budgets=list(
            budgets_for(user).filter(course__closed_at=None).order_by("course__title", "pk")
        ),
        setting_up=setting_up(user),
        keeping=trouble(user, moment),
    )


def _group(
    title: str,
    nothing: str,
    found: QuerySet[Any],
    row: Any,
    more_url: str = "",
    more_label: str = "",
) -> Waiting:
    shown = [row(one) for one in found[:SHOWN]]
    return Waiting(title, shown, found.count(), nothing, more_url, more_label)


def _patterns(user: User) -> Waiting:
    found = (
        patterns_for(user)
        .filter(state=Pattern.State.HANDED_IN, project__brief__course__closed_at=None)
        .defer("tracing", "relabels", "changes", "recipe", "drawing_json", "findings_json")
        .order_by("handed_in_at", "pk")
    )
    return _group(
        "Patterns to look at",
        "No pattern waits for you.",
        found,
        lambda p: DayRow(
            str(p.project.student),
            reverse("pattern_review", args=[p.pk]),
            p.project.brief.title,
            since=p.handed_in_at,
        ),
        reverse("patterns_waiting"),
        "Look at them side by side",
    )


def _checks(user: User) -> Waiting:
    found = (
        bench_steps_for(user)
        .filter(teacher_signs=True, done_at=None, student_signed_at__isnull=False)
        .order_by("student_signed_at", "pk")
    )
    first = found.first()
    return _group(
        "Steps to check and sign",
        "Nobody asks for a signature.",
        found,
        lambda s: DayRow(
            f"{s.project.student}: {s.title}",
            reverse("bench", args=[s.project_id]),
            s.project.brief.title,
            since=s.student_signed_at,
        ),
        reverse("class_bench", args=[first.project.brief.course_id]) if first else "",
        f"Sign several at once: {first.project.brief.course}" if first else "",
    )


def _stopped(user: User) -> Waiting:
    """Projects at the bench that cannot go on until a teacher gives what is missing."""
    projects = list(
        projects_for(user)
        .filter(stage=Project.Stage.AT_BENCH, brief__course__closed_at=None)
        .prefetch_related(Prefetch("bench_steps", BenchStep.objects.order_by("number")))
        .order_by("stage_since", "pk")[:MOST_AT_BENCH]
    )
    benches = situations(projects, user.school) if projects else {}
    rows = []
    for project in projects:
        on, _ = benches[project.pk]
        step = bench_rules.foremost(on)
        if step is None or bench_rules.phase(step, on) is not Phase.BLOCKED:
            continue
        missing = [on.missing[code] for code in step.permits if code in on.missing]
        rows.append(
            DayRow(
                f"{project.student}: {step.title}",
                reverse("bench", args=[project.pk]),
                f"no bench permit for {', '.join(missing)}" if missing else "",
            )
        )
    return Waiting(
        "Stopped at the bench",
        rows[:SHOWN],
        len(rows),
        "Nobody is stopped.",
        reverse("class_bench", args=[projects[0].brief.course_id]) if rows else "",
        "Class bench",
    )


def _to_part(user: User) -> Waiting:
    """Metal that is parted first, before its students' own steps can begin."""
    return _group(
        "Sheets to part now",
        "No sheet waits to be parted.",
        parts_waiting(user)
        .filter(plan_stock__plan__course__closed_at=None)
        .defer("plan_stock__plan__job", "plan_stock__plan__answer"),
        lambda step: DayRow(
            step.plan_stock.stock_piece.code,
            reverse("part_metal", args=[step.pk]),
            str(step.plan_stock.plan.course),
            since=step.plan_stock.plan.issued_at,
        ),
    )


def _hand_on(found: Sequence[InHands]) -> Waiting:
    """Shared metal that stands still until a teacher checks, names or hands on."""
    rows = [_metal_row(one) for one in found if one.needs_the_teacher]
    title, nothing = "Shared metal that waits for you", "None waits for you."
    return Waiting(title, rows[:SHOWN], len(rows), nothing)


def _in_hands(found: Sequence[InHands]) -> Waiting:
    rows = [_metal_row(one) for one in found if not one.needs_the_teacher]
    title, nothing = "Metal in several hands", "No metal is passed on."
    return Waiting(title, rows[:SHOWN], len(rows), nothing)


def _metal_row(one: InHands) -> DayRow:
    note = one.words
    if one.is_away and one.holding is not None:
        note += f"; nothing signed for {one.holding.away} school days"
    if one.step is None and one.following is not None:
        note += f"; next is {one.following.project.student}"
    return DayRow(one.code, reverse("passed_on", args=[one.pk]), note)


def _plans(user: User, state: str, title: str, nothing: str, **only: Any) -> Waiting:
    found = (
        plans_for(user)
        .filter(state=state, course__closed_at=None, rival_of=None, **only)
        .annotate(count=Count("shares"))
        .defer("job", "answer")
    )
    return _group(
        title,
        nothing,
        found.order_by("created_at"),
        lambda p: DayRow(
            f"{p.metal}: {p.count} project{'' if p.count == 1 else 's'}",
            reverse("plan", args=[p.pk]),
            str(p.course),
            since=p.created_at,
        ),
        reverse("plans"),
    )


def _returns(user: User) -> Waiting:
    at_work = PlanProject.still_at_work("shares__")
    made = Q(shares__project__stage=Project.Stage.MADE)
    found = (
        plans_for(user)
        .filter(state=CutPlan.State.ISSUED)
        .annotate(still=Count("shares", filter=at_work), count=Count("shares", filter=made))
        .filter(still=0)
        .defer("job", "answer")
    )
    return _group(
        "Metal to take back",
        "No finished work waits to be closed.",
        found.order_by("issued_at"),
        lambda p: DayRow(
            f"{p.metal}: {p.count} finished",
            reverse("plan_return", args=[p.pk]),
            str(p.course),
            since=p.issued_at,
        ),
    )


def _to_place(user: User) -> Waiting:
    found = (
        projects_for(user)
        .filter(stage=Project.Stage.PATTERN_APPROVED, brief__course__closed_at=None)
        .exclude(plan_shares__live=True)
    )
    return _group(
        "Approved patterns without a plan",
        "Every approved pattern has its plan.",
        found.order_by("stage_since"),
        lambda p: DayRow(
            str(p.student),
            reverse("plan_new", args=[p.brief.course_id]),
            f"{p.brief.title}, {p.metal}",
        ),
        reverse("plans"),
        "Cut plans",
    )


def _drying(user: User, now: dt.datetime) -> Waiting:
    found = bench_steps_for(user).filter(wait_until__gt=now, done_at=None)
    return _group(
        "Drying and soaking",
        "Nothing is drying or soaking.",
        found.order_by("wait_until"),
        lambda s: DayRow(
            f"{s.project.student}: {s.title}",
            reverse("bench", args=[s.project_id]),
            until=s.wait_until,
        ),
    )


def _permits(user: User, now: dt.datetime) -> Waiting:
    today = timezone.localdate(now)
    found = (
        permits_for(user)
        .filter(
            withdrawal=None,
            expires_on__gte=today,
            expires_on__lte=today + dt.timedelta(days=PERMIT_WARNING_DAYS),
        )
        .annotate(course_pk=_a_course_of(user))
        .order_by("expires_on", "pk")
    )
    return _group(
        "Bench permits that end soon",
        "No permit ends in the next two weeks.",
        found,
        lambda p: DayRow(
            f"{p.student}: {p.topic}",
            reverse("permits", args=[p.course_pk]),
            f"until {p.expires_on.day} {p.expires_on:%b}",
        ),
    )


def _a_course_of(user: User) -> Subquery:
    """The teacher's newest course in which the permit's student sits: there it is renewed."""
    seats = (
        seats_for(user)
        .filter(student=OuterRef("student"))
        .order_by(F("left_at").asc(nulls_first=True), "-course_id")
    )
    return Subquery(seats.values("course")[:1])


def _supplies(user: User) -> Waiting:
    return _group(
        "Supplies to order",
        "No supply is running low.",
        low_supplies_for(user).order_by("name", "pk"),
        lambda c: DayRow(
            c.name, reverse("supply_edit", args=[c.pk]), f"{c.on_hand.normalize():f} {c.unit} left"
        ),
        reverse("supplies"),
    )
