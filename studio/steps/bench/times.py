"""How long this class took for each kind of step, from its own sign-offs."""

from __future__ import annotations

import zoneinfo
from collections import defaultdict

from classroom.models import Course
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, SignOff

MOST_TIMES = 1000
"""The newest ones; a course has some thirty seats and a few briefs."""


def own_minutes(course: Course) -> dict[BenchStepKind, list[float]]:
    """Minutes from start to the student's signature, by kind of step, newest first.

    Left out are steps that lay over a night, because nobody worked then, and those where a
    teacher set a rule aside. `course` comes with its school.
    """
    zone = zoneinfo.ZoneInfo(course.school.time_zone)
    set_aside = SignOff.objects.filter(
        kind=SignOff.Kind.OVERRIDE, step__project__brief__course=course
    ).values("step")
    rows = (
        BenchStep.objects.filter(
            project__brief__course=course, started_at__isnull=False, student_signed_at__isnull=False
        )
        .exclude(pk__in=set_aside)
        .order_by("-student_signed_at", "-pk")
        .values_list("kind", "started_at", "student_signed_at")[:MOST_TIMES]
    )
    found: dict[BenchStepKind, list[float]] = defaultdict(list)
    for kind, started, signed in rows:
        assert started is not None
        assert signed is not None
        if started.astimezone(zone).date() == signed.astimezone(zone).date():
            found[BenchStepKind(kind)].append((signed - started).total_seconds() / 60)
    return dict(found)
