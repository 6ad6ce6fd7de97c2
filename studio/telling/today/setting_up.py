"""What is still missing before a class can begin? The way from an empty school to the first brief.

Reads only. A teacher sees it on the first page until a running course has all it needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef
from django.urls import reverse

from classroom.models import Course, Seat, User
from classroom.queries import courses_for
from inventory.models import Budget, StockPiece
from inventory.queries import metals_for, stock_for
from studio.models import Brief


@dataclass(frozen=True)
class Stretch:
    """One thing to set up, whether it is there, and where it is done."""

    label: str
    done: bool
    title: str
    text: str
    button: str
    url: str


@dataclass(frozen=True)
class SettingUp:
    """The first thing that is missing, and all of them in order for the trail."""

    now: Stretch
    trail: list[dict[str, Any]]


def setting_up(user: User) -> SettingUp | None:
    """The way that is left for the newest running course that lacks something; None when none."""
    course = _course(user)
    stretches = [
        Stretch(
            "Course",
            course is not None,
            "Begin with a course",
            "A course is one class in one term.",
            "Make a course",
            reverse("course_new"),
        ),
        *_school(user),
        *(_of(course) if course is not None else _later()),
    ]
    now = next((one for one in stretches if not one.done), None)
    if now is None:
        return None
    return SettingUp(now, [_on_trail(one, now) for one in stretches])


def _course(user: User) -> Any:
    own = {"course": OuterRef("pk")}
    running = (
        courses_for(user)
        .filter(closed_at=None)
        .annotate(
            listed=Exists(Seat.objects.filter(**own, left_at=None)),
            allotted=Exists(Budget.objects.filter(**own, allotted__gt=0)),
            briefed=Exists(Brief.objects.filter(**own)),
        )
        .order_by("-starts_on", "-pk")
    )
    lacking = running.exclude(listed=True, allotted=True, briefed=True)
    return lacking.first() or running.first()


def _school(user: User) -> list[Stretch]:
    return [
        Stretch(
            "Metals",
            metals_for(user).exists(),
            "Name the metals that you saw",
            "A metal is an alloy in a thickness. Prices are your own.",
            "New metal",
            reverse("metal_new"),
        ),
        Stretch(
            "Rack",
            stock_for(user).exclude(state=StockPiece.State.GONE).exists(),
            "Put metal on the rack",
            "Receive a purchase, or add offcuts that are there already.",
            "Receive metal",
            reverse("receive"),
        ),
    ]


def _of(course: Any) -> list[Stretch]:
    one: Course = course
    return [
        Stretch(
            "Class list",
            course.listed,
            f"Add the students of {one}",
            "Type a name, paste a list, or upload a CSV file.",
            "Add students",
            reverse("class_list_add", args=[one.pk]),
        ),
        Stretch(
            "Budget",
            course.allotted,
            f"Give {one} a metal budget",
            "When you approve a cut plan, its price is set aside from it.",
            "Allot money",
            reverse("budget", args=[one.pk]),
        ),
        Stretch(
            "Brief",
            course.briefed,
            f"Write a brief for {one}",
            "It says what the class makes, on which metals and within which limits.",
            "Write the brief",
            reverse("brief_new", args=[one.pk]),
        ),
    ]


def _later() -> list[Stretch]:
    """What follows once there is a course; until then there is nowhere to do it."""
    return [Stretch(label, False, "", "", "", "") for label in ("Class list", "Budget", "Brief")]


def _on_trail(one: Stretch, now: Stretch) -> dict[str, Any]:
    state = "done" if one.done else "current" if one is now else "locked"
    return {"label": one.label, "state": state, "url": "" if one.done else one.url}
