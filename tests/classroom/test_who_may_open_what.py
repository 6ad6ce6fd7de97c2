"""Every page of the classroom, asked for by everybody: the teacher, the student whose things
they are, a classmate, teachers elsewhere, and somebody who is not signed in."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, reverse
from django.utils import timezone

from classroom import urls
from classroom.models import Erasure, Substance, Topic, User
from classroom.safety.data_sheets import keep_sheet
from classroom.safety.permits import give_permit
from classroom.safety.topics import seed_topics
from tests.classroom.safety.incidents import make_incident

from ..people import Cast, signed_in
from .passing import pass_questions

PEOPLE = ("teacher", "other_teacher", "outsider", "owner", "classmate", "outside_student")
# What each of PEOPLE gets. A keeper of another school keeps that one, hence 200 for "outsider".
EVERYBODY = (200, 200, 200, 200, 200, 200)
TEACHERS = (200, 200, 200, 403, 403, 403)
OWN_COURSE = (200, 404, 404, 403, 403, 403)
OWN_SCHOOL = (200, 200, 404, 200, 200, 404)
OWN_SCHOOLS_TEACHERS = (200, 200, 404, 403, 403, 403)
KEEPERS = (200, 403, 200, 403, 403, 403)
KEEPERS_OWN = (200, 403, 404, 403, 403, 403)

PAGES: dict[str, tuple[str | None, tuple[int, ...]]] = {
    "own_account": (None, EVERYBODY),
    "own_language": (None, EVERYBODY),
    "school_settings": (None, KEEPERS),
    "old_names": (None, KEEPERS),
    "student_erase": ("student", KEEPERS_OWN),
    "erasure_correct": ("erasure", KEEPERS_OWN),
    "erasure_print": ("erasure", KEEPERS_OWN),
    "teacher_new": (None, KEEPERS),
    "teacher_card": ("colleague", KEEPERS_OWN),
    "teacher_close": ("colleague", KEEPERS_OWN),
    "teacher_open": ("colleague", KEEPERS_OWN),
    "teacher_keeper": ("colleague", KEEPERS_OWN),
    "course_list": (None, TEACHERS),
    "course_new": (None, TEACHERS),
    "course": ("course", OWN_COURSE),
    "course_edit": ("course", OWN_COURSE),
    "course_close": ("course", OWN_COURSE),
    "course_reopen": ("course", OWN_COURSE),
    "class_list": ("course", OWN_COURSE),
    "class_list_add": ("course", OWN_COURSE),
    "sign_in_cards": ("course", OWN_COURSE),
    "cards_pdf": (None, TEACHERS),
    "permits": ("course", OWN_COURSE),
    "seat": ("seat", OWN_COURSE),
    "seat_leave": ("seat", OWN_COURSE),
    "seat_return": ("seat", OWN_COURSE),
    "seat_move": ("seat", OWN_COURSE),
    "topics": (None, EVERYBODY),
    "topic_new": (None, TEACHERS),
    "topic": ("topic", OWN_SCHOOL),
    "topic_edit": ("topic", OWN_SCHOOLS_TEACHERS),
    "topic_retire": ("topic", OWN_SCHOOLS_TEACHERS),
    "topic_restore": ("topic", OWN_SCHOOLS_TEACHERS),
    "topic_questions": ("topic", (403, 403, 403, 200, 200, 404)),
    "topic_questions_edit": ("topic", OWN_SCHOOLS_TEACHERS),
    "topic_translate": ("topic", OWN_SCHOOLS_TEACHERS),
    "attempt": ("attempt", (200, 404, 404, 200, 404, 404)),
    "guardian_forms": ("course", OWN_COURSE),
    "guardian_take_back": ("seat", OWN_COURSE),
    "permits_again": ("seat", OWN_COURSE),
    "permit_cards": ("course", OWN_COURSE),
    "permit_status": ("course", OWN_COURSE),
    "guardian_print": ("course", OWN_COURSE),
    "topic_sheet": ("topic", OWN_SCHOOL),
    "topic_sheets": (None, EVERYBODY),
    "substances": (None, EVERYBODY),
    "substance_new": (None, TEACHERS),
    "substance_edit": ("substance", OWN_SCHOOLS_TEACHERS),
    "substance_sheet": ("substance", OWN_SCHOOL),
    "substance_set_aside": ("substance", OWN_SCHOOLS_TEACHERS),
    "incidents": (None, TEACHERS),
    "incident_new": (None, TEACHERS),
    "incident": ("incident", OWN_COURSE),
    "incident_correct": ("incident", OWN_COURSE),
    "incident_suspend": ("incident", OWN_COURSE),
    "incident_print": ("incident", OWN_COURSE),
    "permit_give": (None, OWN_COURSE),
    "permit_withdraw": ("permit", OWN_COURSE),
}
POST_ONLY = {
    "teacher_card", "teacher_close", "teacher_open", "teacher_keeper", "course_close",
    "course_reopen", "sign_in_cards", "seat_leave", "seat_return", "seat_move", "topic_retire",
    "topic_restore", "substance_set_aside",
    "incident_suspend", "own_language", "cards_pdf",
}  # fmt: skip
MORE = {"topic_translate": ("es",)}
OPEN = {"first_run", "sign_in", "sign_out"}


@pytest.fixture
def things(cast: Cast) -> dict[str, Any]:
    seed_topics(cast.school)
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    return {
        "course": cast.course,
        "seat": cast.seat,
        "student": cast.owner,
        "erasure": an_erasure(cast),
        "topic": topic,
        "colleague": cast.other_teacher,
        "incident": make_incident(cast, happened_at=timezone.now()),
        "substance": with_sheet(cast),
        "attempt": pass_questions(cast.owner, topic),
        "permit": give_permit(cast.owner, topic, acting=cast.teacher, remark=""),
    }


def an_erasure(cast: Cast) -> Erasure:
    gone = User.objects.create_user(
        "gone.1", None, display_name="Former student 1", role="student", school=cast.school
    )
    return Erasure.objects.create(
        student=gone, kind="on_request", asked_by="student", asked_on=dt.date(2026, 9, 1)
    )


def with_sheet(cast: Cast) -> Substance:
    substance = Substance.objects.get(school=cast.school, title="Acetone")
    substance.sheet_sha = keep_sheet(substance, b"%PDF-1.7")
    substance.save()
    return substance


def address(view: str, things: dict[str, Any]) -> str:
    about = PAGES[view][0]
    url = reverse(view, args=[things[about].pk, *MORE.get(view, ())] if about else [])
    if view == "permit_give":
        url += f"?course={things['course'].pk}&topic={things['topic'].pk}"
    return url


def test_every_address_stands_in_this_table() -> None:
    names = {pattern.name for pattern in urls.urlpatterns if isinstance(pattern, URLPattern)}
    assert names == set(PAGES) | OPEN


def asked_by(person: User, view: str, url: str) -> int:
    """The status of the page; of a deed, which is undone: the next person finds all as it was."""
    client = signed_in(person)
    if view not in POST_ONLY:
        return client.get(url).status_code
    with transaction.atomic():
        got = client.post(url).status_code
        transaction.set_rollback(True)
    assert client.get(url).status_code in (403, 405)
    # A rule may still refuse (409) what the role allows, and a deed leads on (302).
    return 200 if got in (302, 409) else got


@pytest.mark.parametrize("view", sorted(PAGES))
def test_everybody_gets_what_is_theirs(cast: Cast, things: dict[str, Any], view: str) -> None:
    url = address(view, things)
    got = {who: asked_by(getattr(cast, who), view, url) for who in PEOPLE}
    assert got == dict(zip(PEOPLE, PAGES[view][1], strict=True))


def test_a_stranger_is_sent_to_sign_in(things: dict[str, Any], client: Client) -> None:
    for view in PAGES:
        for send in (client.get, client.post):
            answer = send(address(view, things))
            assert answer.status_code == 302, view
            assert answer.headers["Location"].startswith("/sign-in/"), view


def test_a_number_that_is_nobodys_is_not_found(cast: Cast, things: dict[str, Any]) -> None:
    teacher, student = signed_in(cast.teacher), signed_in(cast.owner)
    for view in (view for view, (about, _) in PAGES.items() if about):
        client = student if view == "topic_questions" else teacher
        for number in (0, 999_999, 10**30):
            answer = client.post(reverse(view, args=[number, *MORE.get(view, ())]))
            assert answer.status_code in (404, 405), (view, number)
