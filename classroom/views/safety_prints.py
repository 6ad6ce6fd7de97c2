"""Prints of the safety side, in the school's language or the one that the address asks for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from classroom.guardians import signatures
from classroom.languages import chosen_language, language_links
from classroom.models import Course, Seat, Topic, TopicWording
from classroom.permissions import Action, Visit, requires
from classroom.printing import printed
from classroom.queries import course_for, topic_for, topics_for
from classroom.questions import passes
from classroom.safety_texts import DEFERRAL, HURT_NOTE, RECORD_NOTE, SIGNATURE_NOTE
from classroom.standings import TopicStanding, standings
from classroom.topics import wordings_for

TOPICS_PER_CARD = 7
TOPICS_PER_TABLE = 7


@requires(Action.GIVE_PERMIT)
@require_safe
def permit_cards(request: Visit, pk: int) -> HttpResponse:
    """A card for every student with a permit in force, or for the seat `?seat=` alone."""
    course = course_for(request.user, pk)
    seats = _seats(course)
    asked = request.GET.get("seat", "")
    if asked.isascii() and asked.isdigit():
        seats = [seat for seat in seats if str(seat.pk) == asked]
    language, topics, words = _words(request)
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
    context = {"course": course, "cards": _parts(cards, 2), "without": without}
    return _print(
        request,
        language,
        "classroom/prints/permit_cards.html",
        context,
        back_url=reverse("permits", args=[pk]),
        name=f"permit-cards-{course}",
    )


@requires(Action.GIVE_PERMIT)
@require_safe
def permit_status(request: Visit, pk: int) -> HttpResponse:
    """Students and topics: who has which permit until when."""
    course = course_for(request.user, pk)
    seats = _seats(course)
    students = [seat.student for seat in seats]
    language, topics, words = _words(request)
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
    return _print(
        request,
        language,
        "classroom/prints/permit_status.html",
        {"course": course, "tables": tables},
        back_url=reverse("permits", args=[pk]),
        name=f"permit-status-{course}",
    )


@requires(Action.GIVE_PERMIT)
@require_safe
def guardian_print(request: Visit, pk: int) -> HttpResponse:
    """The form for parents and guardians: a page for every student, or for `?seat=` alone."""
    course = course_for(request.user, pk)
    seats = _seats(course)
    asked = request.GET.get("seat", "")
    if asked.isascii() and asked.isdigit():
        seats = [seat for seat in seats if str(seat.pk) == asked]
    language, topics, words = _words(request)
    return _print(
        request,
        language,
        "classroom/prints/guardian_form.html",
        {
            "course": course,
            "seats": seats,
            "topics": [words[topic.pk] for topic in topics],
            "weeks": request.user.school.retest_after_weeks,
        },
        back_url=reverse("guardian_forms", args=[pk]),
        name=f"guardian-form-{course}",
    )


@requires(Action.SEE_SAFETY)
@require_safe
def topic_sheet(request: Visit, pk: int) -> HttpResponse:
    return _sheets(
        request, [topic_for(request.user, pk)], back_url=reverse("topic", args=[pk]), name="lesson"
    )


@requires(Action.SEE_SAFETY)
@require_safe
def topic_sheets(request: Visit) -> HttpResponse:
    topics = list(topics_for(request.user).filter(retired_at=None))
    return _sheets(request, topics, back_url=reverse("topics"), name="lessons")


def _sheets(request: Visit, topics: list[Topic], *, back_url: str, name: str) -> HttpResponse:
    language = chosen_language(request, request.user.school)
    words = wordings_for(topics, language)
    return _print(
        request,
        language,
        "classroom/prints/topic_sheets.html",
        {"sheets": [{"topic": topic, "words": words[topic.pk]} for topic in topics]},
        back_url=back_url,
        name=f"{name}-{topics[0].code}" if len(topics) == 1 else name,
    )


def _print(
    request: Visit,
    language: str,
    template: str,
    context: dict[str, Any],
    *,
    back_url: str,
    name: str,
) -> HttpResponse:
    """The print in the language, with the words that every safety print carries."""
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
        return printed(request, template, full | context, name=f"{name}-{language}")


def _words(request: Visit) -> tuple[str, list[Topic], dict[int, TopicWording]]:
    """The language, the topics that are asked for, and what each says in that language."""
    language = chosen_language(request, request.user.school)
    topics = list(topics_for(request.user).filter(retired_at=None))
    return language, topics, wordings_for(topics, language)


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
