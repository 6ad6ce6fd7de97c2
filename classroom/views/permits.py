"""Bench permits of a course: who has which, giving several at once, withdrawing one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_safe

from classroom.acting import done, said_on
from classroom.forms.safety import PermitForm, WithdrawForm
from classroom.models import Course, Topic, User
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, permit_for, students_in, topic_for, topics_for
from classroom.refusals import Refused
from classroom.safety.permit_needs import needs_of
from classroom.safety.permits import give_permits, standings, withdraw
from classroom.safety.questions import passes

from .courses import crumbs_to


@requires(Action.GIVE_PERMIT)
@require_safe
def permits(request: Visit, pk: int) -> HttpResponse:
    course = course_for(request.user, pk)
    students = _students(course)
    topics = list(topics_for(request.user).filter(retired_at=None))
    found = standings(students, topics, timezone.localdate())
    passed = passes(students, topics, timezone.now())
    rows = [
        {
            "student": student,
            "standings": found[student.pk],
            "cells": [
                {"one": one, "passed": (student.pk, one.topic.pk) in passed}
                for one in found[student.pk]
            ],
        }
        for student in students
    ]
    missing = [
        sum(not row["standings"][at].in_force for row in rows)  # type: ignore[index]
        for at in range(len(topics))
    ]
    return render(
        request,
        "classroom/safety/permits.html",
        {
            "course": course,
            "topics": [
                {"topic": topic, "missing": count}
                for topic, count in zip(topics, missing, strict=True)
            ],
            "rows": rows,
            "crumbs": crumbs_to(course, "Bench permits"),
        },
    )


@requires(Action.GIVE_PERMIT)
@require_http_methods(["GET", "POST"])
def permit_give(request: Visit) -> HttpResponse:
    """`course` and `topic` come in the address; `student`, repeated, ticks students."""
    course, topic = _asked_for(request)
    students = _students(course)
    today = timezone.localdate()
    found = standings(students, [topic], today)
    needs = needs_of(students, topic)
    form = PermitForm(
        request.POST or None,
        students=students_in(course),
        initial={"students": request.GET.getlist("student")},
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            said = form.cleaned_data
            given = give_permits(
                said["students"],
                topic,
                acting=request.user,
                remark=said["remark"],
                on=said["on"],
                in_spite_of=said["in_spite_of"],
            )
            count = "1 permit" if len(given) == 1 else f"{len(given)} permits"
            return done(
                request,
                f"{count} for “{topic}” until {given[0].expires_on:%d %b %Y}.",
                "permits",
                course.pk,
            )
    ticked = set(form["students"].value() or [])
    rows = [
        {
            "student": student,
            "standing": found[student.pk][0],
            "ticked": str(student.pk) in {str(one) for one in ticked},
            "lacks": needs[student.pk].missing,
        }
        for student in students
    ]
    return render(
        request,
        "classroom/safety/permit_give.html",
        {
            "course": course,
            "topic": topic,
            "form": form,
            "rows": rows,
            "any_lacks": any(row["lacks"] for row in rows),
            "crumbs": _crumbs(course, str(topic)),
        },
    )


@requires(Action.GIVE_PERMIT)
@require_http_methods(["GET", "POST"])
def permit_withdraw(request: Visit, pk: int) -> HttpResponse:
    permit = permit_for(request.user, pk)
    back = request.POST.get("back") or request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}):
        back = reverse("topics")
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            withdraw(permit, acting=request.user, reason=form.cleaned_data["reason"])
        except Refused as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(
                request, f"{permit.student} may not use “{permit.topic}” until a new permit."
            )
        return redirect(back)
    return render(
        request,
        "classroom/safety/permit_withdraw.html",
        {
            "permit": permit,
            "form": form,
            "back": back,
            "is_over": _is_over(permit),
            "crumbs": [
                {"label": "Safety", "url": reverse("topics")},
                {"label": str(permit.topic), "url": reverse("topic", args=[permit.topic_id])},
                {"label": "Withdraw a permit"},
            ],
        },
    )


def _is_over(permit: Any) -> bool:
    return hasattr(permit, "withdrawal") or permit.expires_on < timezone.localdate()


def _asked_for(request: Visit) -> tuple[Course, Topic]:
    course, topic = request.GET.get("course", ""), request.GET.get("topic", "")
    if not (course.isascii() and course.isdigit() and topic.isascii() and topic.isdigit()):
        raise Http404
    return course_for(request.user, int(course[:18])), topic_for(request.user, int(topic[:18]))


def _students(course: Course) -> list[User]:
    return [seat.student for seat in course.seats.taken().select_related("student")]


def _crumbs(course: Course, here: str) -> list[dict[str, Any]]:
    return [
        *crumbs_to(course, "x")[:2],
        {"label": "Bench permits", "url": reverse("permits", args=[course.pk])},
        {"label": here},
    ]
