"""Sign-in cards: printed once, for those chosen, never worth less by a second click."""

from __future__ import annotations

import datetime as dt
import io
import re

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from classroom.models import History, School, Seat, User
from classroom.papers.addresses import full_address, tidy_address
from classroom.people.class_list import leave
from classroom.signin import passphrases
from classroom.signin.passphrases import mark_of
from tests.people import PASSPHRASE, Cast


@pytest.fixture
def desk(cast: Cast, desk: Client) -> Client:
    """The same, in a class where one has no passphrase."""
    User.objects.filter(pk=cast.classmate.pk).update(password="!")
    cast.classmate.refresh_from_db()
    return desk


def url(cast: Cast) -> str:
    return reverse("sign_in_cards", args=[cast.course.pk])


def tick(person: User) -> str:
    return f"{person.pk}-{mark_of(person)}"


def secrets_on(page: str) -> list[str]:
    return re.findall(r"[a-z]+-[a-z]+-[a-z]+-[a-z]+-\d\d", page)


def test_all_without_a_passphrase_get_a_card_and_nobody_else(cast: Cast, desk: Client) -> None:
    answer = desk.post(url(cast), {"who": "without"})
    page = answer.content.decode()
    (secret,) = secrets_on(page)
    assert User.objects.get(pk=cast.classmate.pk).check_password(secret)
    assert User.objects.get(pk=cast.owner.pk).check_password(PASSPHRASE)
    assert "Odd F" in page
    assert "odd.f" in page
    assert "no-store" in answer.headers["Cache-Control"]


def test_a_second_click_on_all_issues_nothing(cast: Cast, desk: Client) -> None:
    first = secrets_on(desk.post(url(cast), {"who": "without"}).content.decode())[0]
    assert desk.post(url(cast), {"who": "without"}).status_code == 409
    assert User.objects.get(pk=cast.classmate.pk).check_password(first)


def test_those_ticked_get_new_cards(cast: Cast, desk: Client) -> None:
    page = desk.post(url(cast), {"card": [tick(cast.owner), tick(cast.owner)]}).content.decode()
    (secret,) = secrets_on(page)
    assert User.objects.get(pk=cast.owner.pk).check_password(secret)
    assert History.objects.about(cast.owner).get().actor == cast.teacher


def test_a_second_click_does_not_make_the_first_cards_worthless(cast: Cast, desk: Client) -> None:
    said = {"card": [tick(cast.owner)]}
    (first,) = secrets_on(desk.post(url(cast), said).content.decode())
    again = desk.post(url(cast), said)
    assert again.status_code == 409
    assert User.objects.get(pk=cast.owner.pk).check_password(first)


def test_a_new_card_signs_out_whoever_used_the_old_one(cast: Cast, desk: Client) -> None:
    somewhere = Client()
    somewhere.force_login(cast.owner)
    assert somewhere.get("/me/").status_code == 200
    desk.post(url(cast), {"card": [tick(cast.owner)]})
    assert somewhere.get("/me/").status_code == 302


@pytest.mark.parametrize("card", ["", "x", "-", "²-x", "0-0", "99999999999999999999-x", "{other}"])
def test_a_tick_for_somebody_else_is_refused(cast: Cast, desk: Client, card: str) -> None:
    other = card.format(other=tick(cast.outside_student))
    answer = desk.post(url(cast), {"card": [tick(cast.owner), other]})
    assert answer.status_code == 409
    assert User.objects.get(pk=cast.owner.pk).check_password(PASSPHRASE)


def test_nobody_ticked_is_said(cast: Cast, desk: Client) -> None:
    assert "Tick the students" in desk.post(url(cast)).content.decode()


def test_who_left_gets_no_card(cast: Cast, desk: Client) -> None:
    leave(cast.seat, acting=cast.teacher)
    assert desk.post(url(cast), {"card": [tick(cast.owner)]}).status_code == 409


def test_cards_are_made_by_post_only(cast: Cast, desk: Client) -> None:
    assert desk.get(url(cast)).status_code == 405


def test_a_class_fills_its_pages_and_the_longest_passphrase_its_line(
    cast: Cast, desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(passphrases.secrets, "choice", lambda words: max(words, key=len))
    for number in range(11):
        person = User.objects.create_user(
            f"s{number}", display_name=f"Sara {number}", role="student", school=cast.school
        )
        Seat.objects.create(course=cast.course, student=person)
    answer = desk.post(url(cast), {"who": "without", "as": "pdf"})
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert [len(secrets_on(page.extract_text())) for page in pages] == [8, 4]


def test_the_pdf_holds_what_opens_the_door_on_one_line(cast: Cast, desk: Client) -> None:
    answer = desk.post(url(cast), {"card": [tick(cast.owner)], "as": "pdf"})
    assert answer.headers["Content-Type"] == "application/pdf"
    assert "no-store" in answer.headers["Cache-Control"]
    assert answer.content.startswith(b"%PDF")
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    (secret,) = secrets_on(text)
    assert "wren.t" in text
    door = Client()
    door.post("/sign-in/", {"username": "wren.t", "password": secret})
    assert "_auth_user_id" in door.session


def sealed_on(page: str) -> str:
    (sealed,) = re.findall(r'name="cards" value="([^"]+)"', page)
    return sealed


def test_the_page_of_cards_prints_itself_and_comes_as_pdf_too(cast: Cast, desk: Client) -> None:
    page = desk.post(url(cast), {"card": [tick(cast.owner)]}).content.decode()
    assert '<button type="button" data-print' in page
    answer = desk.post(reverse("cards_pdf"), {"cards": sealed_on(page)})
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "no-store" in answer.headers["Cache-Control"]
    assert secrets_on(text) == secrets_on(page)[:1]
    assert User.objects.get(pk=cast.owner.pk).check_password(secrets_on(text)[0])


def test_a_page_of_cards_serves_nobody_else_and_not_for_ever(cast: Cast, desk: Client) -> None:
    sealed = sealed_on(desk.post(url(cast), {"card": [tick(cast.owner)]}).content.decode())
    assert desk.post(reverse("cards_pdf"), {"cards": f"{sealed}x"}).status_code == 409
    with time_machine.travel(timezone.now() + dt.timedelta(hours=2)):
        assert desk.post(reverse("cards_pdf"), {"cards": sealed}).status_code == 409
    desk.force_login(cast.other_teacher)
    assert desk.post(reverse("cards_pdf"), {"cards": sealed}).status_code == 409


def test_cards_and_labels_say_the_schools_own_address(cast: Cast, desk: Client) -> None:
    said = {"card": [tick(cast.owner)]}
    assert "<br>http://testserver/<br>" in desk.post(url(cast), said).content.decode()
    School.objects.filter(pk=cast.school.pk).update(address_for_students="http://bench:8000/")
    cast.owner.refresh_from_db()
    page = desk.post(url(cast), {"card": [tick(cast.owner)]}).content.decode()
    assert "<br>http://bench:8000/<br>" in page
    request = RequestFactory().get("/")
    request.user = User.objects.get(pk=cast.teacher.pk)
    assert full_address(request, "/rack/1/") == "http://bench:8000/rack/1/"


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("", ""),
        (" https://bench.school.example ", "https://bench.school.example/"),
        ("http://classroom-pc:8000", "http://classroom-pc:8000/"),
        ("http://[::1]:8000/", "http://[::1]:8000/"),
        ("https://school.example/bench", "https://school.example/bench/"),
    ],
)
def test_an_address_is_kept_in_one_form(typed: str, kept: str) -> None:
    assert tidy_address(typed) == kept


@pytest.mark.parametrize(
    "typed",
    [
        "bench.school.example",
        "ftp://bench",
        "javascript:alert(1)",
        "https://",
        "https://a:b@bench/",
        "https://bench/?next=1",
        "https://bench:99999/",
        "https://bench/<script>",
        "https://be nch/",
        "https://bench/#top",
        "https://[bench/",
    ],
)
def test_what_is_no_address_of_a_site_is_refused(typed: str) -> None:
    with pytest.raises(ValidationError):
        tidy_address(typed)
