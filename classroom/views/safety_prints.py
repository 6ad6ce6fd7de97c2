"""Prints of the safety side, in the school's language or the one that the address asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from classroom.models import Course, Seat, Topic, TopicWording
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, topic_for, topics_for
from classroom.safety.guardians import signatures
from classroom.safety.questions import passes
from classroom.safety.standings import TopicStanding, standings
from classroom.safety.texts import DEFERRAL, HURT_NOTE, RECORD_NOTE, SIGNATURE_NOTE
from classroom.safety.topics import wordings_for
from classroom.wording.chosen_language import chosen_language, language_links

TOPICS_PER_CARD = 7
TOPICS_PER_TABLE = 7


@requires(Action.GIVE_PERMIT)
@require_GET
def permit_cards(request: Visit, pk: int) -> HttpResponse:
    """A card for every student with a permit in force, or for the seat `?seat=` alone."""
    course = course_for(request.user, pk)
    seats = _seats(course)
    asked = request.GET.get("seat", "")
    if asked.isascii() and asked.isdigit():
        seats = [seat for seat in seats if str(seat.pk) == asked]

    def context(language: str) -> dict[str, Any]:
        topics, words = _words(request, language)
        found = standings([seat.student for seat in seats], topics, timezone.localdate())
        cards: list[dict[str, Any]] = []
        without = []
        for seat in seats:
            rows = [one for one in found[seat.student_id] if one.in_force]
            if not rows:
                without.append(seat.student)
            for part in _parts(rows, TOPICS_PER_CARD):
                lines = [{"title": words[o.topic.pk].title, "permit": o.permit} for o in part]
                cards.append({"student": seat.student, "lines": lines})
        return {"course": course, "cards": _parts(cards, 2), "without": without}

    return _print(
        request,
        "classroom/prints/permit_cards.html",
        context,
        back_url=reverse("permits", args=[pk]),
        name=f"permit-cards-{course}",
    )


@requires(Action.GIVE_PERMIT)
@require_GET
def permit_status(request: Visit, pk: int) -> HttpResponse:
    """Students and topics: who has which permit until when."""
    course = course_for(request.user, pk)
    return _print(
        request,
        "classroom/prints/permit_status.html",
        lambda language: _status(request, course, language),
        back_url=reverse("permits", args=[pk]),
        name=f"permit-status-{course}",
    )


def _status(request: Visit, course: Course, language: str) -> dict[str, Any]:
    seats = _seats(course)
    students = [seat.student for seat in seats]
    topics, words = _words(request, language)
    found = standings(students, topics, timezone.localdate())
    passed = passes(students, topics, timezone.now())
    signed = signatures(students, timezone.localdate())
    tables = []
    for part in _parts(topics, TOPICS_PER_TABLE):
        here = {topic.pk for topic in part}
        tables.append(
            {
                "topics": [words[topic.pk].title for topic in part],
                "missing": [
                    sum(
                        not one.in_force
                        for student in students
                        for one in found[student.pk]
                        if one.topic == topic
                    )
                    for topic in part
                ],
                "rows": [
                    {
                        "student": student,
                        "signed": signed.get(student.pk),
                        "cells": [
                            _cell(one, (student.pk, one.topic.pk) in passed)
                            for one in found[student.pk]
                            if one.topic.pk in here
                        ],
                    }
                    for student in students
                ],
            }
        )
    return {"course": course, "tables": tables}


@requires(Action.GIVE_PERMIT)
@require_GET
def guardian_print(request: Visit, pk: int) -> HttpResponse:
    """The form for parents and guardians: a page for every student, or for `?seat=` alone."""
    course = course_for(request.user, pk)
    seats = _seats(course)
    asked = request.GET.get("seat", "")
    if asked.isascii() and asked.isdigit():
        seats = [seat for seat in seats if str(seat.pk) == asked]

    def context(language: str) -> dict[str, Any]:
        topics, words = _words(request, language)
        return {
            "course": course,
            "seats": seats,
            "topics": [words[topic.pk] for topic in topics],
            "weeks": request.user.school.retest_after_weeks,
        }

    return _print(
        request,
        "classroom/prints/guardian_form.html",
        context,
        back_url=reverse("guardian_forms", args=[pk]),
        name=f"guardian-form-{course}",
    )


@requires(Action.SEE_SAFETY)
@require_GET
def topic_sheet(request: Visit, pk: int) -> HttpResponse:
    return _sheets(
        request, [topic_for(request.user, pk)], back_url=reverse("topic", args=[pk]), name="lesson"
    )


@requires(Action.SEE_SAFETY)
@require_GET
def topic_sheets(request: Visit) -> HttpResponse:
    topics = list(topics_for(request.user).filter(retired_at=None))
    return _sheets(request, topics, back_url=reverse("topics"), name="lessons")


def _sheets(request: Visit, topics: list[Topic], *, back_url: str, name: str) -> HttpResponse:
    def context(language: str) -> dict[str, Any]:
        words = wordings_for(topics, language)
        return {"sheets": [{"topic": topic, "words": words[topic.pk]} for topic in topics]}

    return _print(
        request,
        "classroom/prints/topic_sheets.html",
        context,
        back_url=back_url,
        name=f"{name}-{topics[0].code}" if len(topics) == 1 else name,
    )


def _print(
    request: Visit,
    template: str,
    context: Callable[[str], dict[str, Any]],
    *,
    back_url: str,
    name: str,
) -> HttpResponse:
    """The print, with the words that every safety print carries.

    In the school's language, or the one that is asked for; `context` is called with it.
    """
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        full = {
            "lang": language,
            "languages": language_links(request, language),
            "back_url": back_url,
            "deferral": gettext(DEFERRAL),
            "record_note": gettext(RECORD_NOTE),
            "signature_note": gettext(SIGNATURE_NOTE),
            "hurt_note": gettext(HURT_NOTE),
            "local_rules": request.user.school.local_rules,
        }
        return printed(
            request, template, lambda: full | context(language), name=f"{name}-{language}"
        )


def _words(request: Visit, language: str) -> tuple[list[Topic], dict[int, TopicWording]]:
    """The topics that are asked for, and what each says in that language."""
    topics = list(topics_for(request.user).filter(retired_at=None))
    return topics, wordings_for(topics, language)


def _cell(one: TopicStanding, passed: bool) -> dict[str, Any]:
    return {
        "until": one.permit.expires_on if one.permit and one.in_force else None,
        "standing": str(one.standing),
        "passed": passed,
    }


def _seats(course: Course) -> list[Seat]:
    return list(course.seats.taken().select_related("student"))


def _parts(things: Sequence[Any], size: int) -> list[Sequence[Any]]:
    return [things[at : at + size] for at in range(0, len(things), size)]
