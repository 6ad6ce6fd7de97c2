"""Signing in and out, throttling, and what happens to a form that was open too long."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse
from time_machine import Traveller

from classroom.models import Seat, SignInCount
from classroom.signin.passphrases import issue_cards
from tests.clocks import EARLY, stopped_at
from tests.people import PASSPHRASE, Cast, is_in

noon = stopped_at(EARLY)


SIGN_IN = "/sign-in/"


def try_in(client: Client, name: str, passphrase: str = PASSPHRASE, **more: str) -> object:
    return client.post(SIGN_IN, {"username": name, "password": passphrase, **more})


def fail(client: Client, name: str, times: int) -> None:
    for _ in range(times):
        try_in(client, name, "wrong-words-10")


def test_name_and_passphrase_open_the_door(cast: Cast, client: Client) -> None:
    answer = client.post(SIGN_IN, {"username": " Wren.T ", "password": PASSPHRASE})
    assert answer.headers["Location"] == reverse("first_page")
    assert is_in(client)


def test_a_wrong_passphrase_and_an_unknown_name_get_the_same_words(
    cast: Cast, client: Client
) -> None:
    pages = [
        client.post(SIGN_IN, {"username": name, "password": "wrong-words-10"}).content.decode()
        for name in ("wren.t", "nobody.here")
    ]
    assert all("do not go together" in page for page in pages)
    assert not is_in(client)


def test_a_student_without_a_card_cannot_sign_in(cast: Cast, client: Client) -> None:
    cast.owner.set_password(None)
    cast.owner.save()
    try_in(client, "wren.t", cast.owner.password)
    try_in(client, "wren.t", "")
    assert not is_in(client)


def test_a_closed_account_cannot_sign_in(cast: Cast, client: Client) -> None:
    type(cast.teacher).objects.filter(pk=cast.teacher.pk).update(is_active=False)
    try_in(client, "marit.quay")
    assert not is_in(client)


def test_after_five_wrong_tries_the_door_rests_and_says_how_long(
    cast: Cast, client: Client, noon: Traveller
) -> None:
    fail(client, "wren.t", 5)
    answer = try_in(client, "wren.t")
    assert answer.status_code == 429
    assert answer.headers["Retry-After"] == "1"
    page = answer.content.decode()
    assert "Wait 1 second and" in page
    assert "wren.t" in page
    assert "Door code" in page
    assert not is_in(client)


def test_four_wrong_tries_leave_it_open(cast: Cast, client: Client, noon: Traveller) -> None:
    fail(client, "wren.t", 4)
    try_in(client, "wren.t")
    assert is_in(client)


def test_capitals_and_blanks_do_not_give_more_tries(
    cast: Cast, client: Client, noon: Traveller
) -> None:
    for name in ("wren.t", "WREN.T", "Wren.T", " wren.t", "wReN.t "):
        fail(client, name, 1)
    try_in(client, "wren.t")
    assert not is_in(client)


def test_a_classmate_at_the_same_address_is_not_held_up(
    cast: Cast, client: Client, noon: Traveller
) -> None:
    fail(client, "wren.t", 9)
    try_in(client, "odd.f")
    assert is_in(client)


def test_the_door_opens_again_after_the_rest(cast: Cast, client: Client, noon: Traveller) -> None:
    fail(client, "wren.t", 5)
    noon.shift(1)
    try_in(client, "wren.t")
    assert is_in(client)


def test_a_new_card_ends_the_rest_at_once(cast: Cast, client: Client, noon: Traveller) -> None:
    fail(client, "wren.t", 9)
    card = issue_cards([cast.owner], acting=cast.teacher)[0]
    try_in(client, "wren.t", card.passphrase)
    assert is_in(client)


def test_no_passphrase_is_written_down_by_the_throttle(cast: Cast, client: Client) -> None:
    fail(client, "wren.t", 2)
    rows = "".join(str(vars(row)) for row in SignInCount.objects.all())
    assert rows
    assert "wrong-words" not in rows


def test_a_passphrase_typed_as_the_user_name_is_not_written_down_either(
    cast: Cast, client: Client
) -> None:
    fail(client, PASSPHRASE, 2)
    rows = "".join(str(vars(row)) for row in SignInCount.objects.all())
    assert rows
    assert PASSPHRASE not in rows
    assert "127.0.0.1" not in rows


def test_signing_out_takes_a_post(cast: Cast, client: Client) -> None:
    client.force_login(cast.owner)
    assert client.get(reverse("sign_out")).status_code == 405
    assert is_in(client)
    client.post(reverse("sign_out"))
    assert not is_in(client)


def test_a_page_leads_to_sign_in_and_back(cast: Cast, client: Client) -> None:
    door = client.get("/courses/?show=closed").headers["Location"]
    assert parse_qs(urlsplit(door).query)["next"] == ["/courses/?show=closed"]
    back = try_in(client, "marit.quay", next="/courses/?show=closed")
    assert back.headers["Location"] == "/courses/?show=closed"


def test_sign_in_never_leads_to_another_site(cast: Cast, client: Client) -> None:
    answer = try_in(client, "marit.quay", next="https://elsewhere.example/")
    assert answer.headers["Location"] == reverse("first_page")


def test_a_form_sent_after_the_session_ended_leads_back_to_its_page(
    cast: Cast, client: Client
) -> None:
    url = reverse("seat_leave", args=[cast.seat.pk])
    page = reverse("class_list", args=[cast.course.pk])
    answer = client.post(url, headers={"referer": f"http://testserver{page}?page=2"})
    door = urlsplit(answer.headers["Location"])
    assert door.path == SIGN_IN
    assert parse_qs(door.query)["next"] == [f"{page}?page=2"]
    said = [str(message) for message in get_messages(answer.wsgi_request)]
    assert "nothing was saved" in said[0]
    assert "send it again" in said[0]
    assert Seat.objects.get(pk=cast.seat.pk).left_at is None


@pytest.mark.parametrize("referer", ["", "https://elsewhere.example/x", "javascript:alert(1)"])
def test_a_late_form_from_elsewhere_leads_to_the_first_page(
    cast: Cast, client: Client, referer: str
) -> None:
    url = reverse("seat_leave", args=[cast.seat.pk])
    answer = client.post(url, headers={"referer": referer} if referer else {})
    assert parse_qs(urlsplit(answer.headers["Location"]).query)["next"] == ["/"]


def test_a_part_of_a_page_sends_the_whole_page_to_sign_in(cast: Cast, client: Client) -> None:
    answer = client.get(
        "/courses/",
        headers={"hx-request": "true", "hx-current-url": "http://testserver/safety/"},
    )
    assert answer.status_code == 200
    assert parse_qs(urlsplit(answer.headers["HX-Redirect"]).query)["next"] == ["/safety/"]


def test_a_form_without_its_token_gets_a_page_that_helps(cast: Cast) -> None:
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(SIGN_IN, {"username": "wren.t", "password": PASSPHRASE})
    assert answer.status_code == 403
    assert "Nothing was saved" in answer.content.decode()


def test_who_is_signed_in_already_is_sent_on(cast: Cast, client: Client) -> None:
    client.force_login(cast.owner)
    assert client.get(SIGN_IN).headers["Location"] == reverse("first_page")
