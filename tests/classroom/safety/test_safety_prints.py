"""Prints of the safety side: cards, class status, guardian form and lessons, in two languages."""

from __future__ import annotations

import datetime as dt
import io
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from classroom.languages import LANGUAGES
from classroom.models import Role, Seat, Topic, User
from classroom.safety.guardians import record_signatures
from classroom.safety.permits import give_permit, withdraw
from classroom.safety.texts import DEFERRAL, SIGNATURE_NOTE
from classroom.safety.topics import Wording, reword
from tests.clocks import NOON, stopped_at
from tests.people import Cast

noon = stopped_at(NOON, always=True)


PRINTS = ("permit_cards", "permit_status", "guardian_print", "topic_sheet", "topic_sheets")


def address(cast: Cast, name: str, topic: Topic) -> str:
    about = {"topic_sheet": [topic.pk], "topic_sheets": []}.get(name, [cast.course.pk])
    return reverse(name, args=about)


def text_of(client: Client, url: str) -> str:
    """The words of the print view, without tags."""
    page = client.get(url).content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.mark.parametrize("language", list(LANGUAGES))
@pytest.mark.parametrize("name", PRINTS)
def test_every_print_is_a_tagged_pdf_in_its_language(
    cast: Cast, saw: Topic, desk: Client, name: str, language: str
) -> None:
    give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    answer = desk.get(f"{address(cast, name, saw)}?as=pdf&lang={language}")
    assert answer.headers["Content-Type"] == "application/pdf"
    pdf = PdfReader(io.BytesIO(answer.content))
    assert pdf.root_object["/Lang"] == language
    words = pdf.pages[0].extract_text()
    assert ("page 1 of" in words) == (language == "en")
    assert ("página 1 de" in words) == (language == "es")


def test_without_a_wish_a_print_is_in_the_schools_language(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    cast.school.language = "es"
    cast.school.save()
    assert "Lo que hay que saber" in text_of(desk, address(cast, "topic_sheet", saw))
    assert "What to know" in text_of(desk, address(cast, "topic_sheet", saw) + "?lang=en")
    assert "Lo que hay que saber" in text_of(desk, address(cast, "topic_sheet", saw) + "?lang=xx")


def test_a_card_shows_the_topics_in_force_and_until_when(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    gone = give_permit(cast.owner, drill, acting=cast.teacher, remark="")
    withdraw(gone, acting=cast.teacher, reason="Key left in the chuck")
    said = text_of(desk, address(cast, "permit_cards", saw))
    assert "Wren T" in said
    assert "Saw frame 31 Mar 2027" in said
    assert "Drill press" not in said
    assert "no card: Odd F" in said


def test_a_card_for_one_seat_alone(cast: Cast, saw: Topic, desk: Client) -> None:
    for student in (cast.owner, cast.classmate):
        give_permit(student, saw, acting=cast.teacher, remark="")
    url = address(cast, "permit_cards", saw)
    said = text_of(desk, f"{url}?seat={cast.seat.pk}")
    assert "Wren T" in said
    assert "Odd F" not in said
    assert "Wren T" not in text_of(desk, f"{url}?seat=999999")


def test_more_topics_than_a_card_holds_go_on_a_second_card(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    extra = Topic.objects.create(school=cast.school, code="torch", title="Torch", lesson=["Hot."])
    for topic in Topic.objects.filter(school=cast.school):
        give_permit(cast.owner, topic, acting=cast.teacher, remark="")
    page = desk.get(address(cast, "permit_cards", saw)).content.decode()
    assert page.count('class="bench-card"') == 2
    assert extra.title in page


def test_the_class_status_says_who_lacks_what(cast: Cast, saw: Topic, desk: Client) -> None:
    cast.school.asks_guardian = True
    cast.school.save()
    record_signatures([cast.owner], signed_on=dt.date(2026, 11, 20), acting=cast.teacher)
    saw.refresh_from_db()
    give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    said = text_of(desk, address(cast, "permit_status", saw))
    assert "Wren T 20 Nov 26" in said
    assert "31 Mar 27" in said
    # The last row counts students without: both for seven topics, one for the saw frame; the eighth
    # stands on a page of its own.
    assert "Without 2 2 2 2 2 2 1 " in said
    assert said.count("Without 2 ") == 2


def test_the_guardian_form_has_a_page_for_every_student(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    pdf = PdfReader(io.BytesIO(desk.get(address(cast, "guardian_print", saw) + "?as=pdf").content))
    pages = [page.extract_text() for page in pdf.pages]
    assert len(pages) == 2
    assert "Odd F" in pages[0]
    assert "Wren T" in pages[1]
    said = text_of(desk, address(cast, "guardian_print", saw))
    assert "no health matters" in said
    assert SIGNATURE_NOTE in said


def test_the_guardian_form_reads_in_spanish_down_to_the_topics(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    said = text_of(desk, address(cast, "guardian_print", saw) + "?lang=es")
    assert "Arco de sierra" in said
    assert "Saw frame" not in said
    assert "He leído esta página" in said


def test_a_lesson_sheet_carries_version_checks_rules_and_what_comes_first(
    cast: Cast, saw: Topic, desk: Client
) -> None:
    cast.school.local_rules = "No rings <at all>."
    cast.school.save()
    page = desk.get(address(cast, "topic_sheet", saw)).content.decode()
    assert "version 1" in page
    assert saw.checks[0] in page
    assert "No rings &lt;at all&gt;." in page
    assert DEFERRAL.replace("'", "&#x27;") in page


def test_a_lesson_that_is_not_translated_yet_says_so(cast: Cast, saw: Topic, desk: Client) -> None:
    reword(saw, Wording("Saw", ["New words"], ["New"], 30), seen_version=1, acting=cast.teacher)
    said = text_of(desk, address(cast, "topic_sheet", saw) + "?lang=es")
    assert "New words" in said
    assert "todavía no está traducido" in said


@pytest.mark.parametrize("name", PRINTS)
def test_no_print_says_that_anything_is_safe(
    cast: Cast, saw: Topic, desk: Client, name: str
) -> None:
    for language in LANGUAGES:
        said = text_of(desk, address(cast, name, saw) + f"?lang={language}").lower()
        assert not re.search(r"\b(is|are) safe\b|\bcompliant\b|\bes segur[oa]\b", said)


@pytest.mark.parametrize("name", ["permit_cards", "permit_status", "guardian_print"])
def test_a_larger_class_asks_no_more_queries(
    cast: Cast, saw: Topic, desk: Client, name: str, django_assert_max_num_queries: Any
) -> None:
    def asked() -> int:
        with django_assert_max_num_queries(60) as captured:
            desk.get(address(cast, name, saw))
        return len(captured)

    give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    asked()
    before = asked()
    for number in range(6):
        more = User.objects.create_user(
            f"more{number}", display_name=f"More {number}", school=cast.school, role=Role.STUDENT
        )
        Seat.objects.create(course=cast.course, student=more)
        give_permit(more, saw, acting=cast.teacher, remark="")
    assert asked() == before
