"""One's own account: seeing what is kept, choosing a new passphrase."""

from __future__ import annotations

import pytest
import time_machine
from django.test import Client

from classroom.models import User
from tests.people import PASSPHRASE, Cast

NEW = "kettle-harbor-finch-77"


@pytest.fixture
def wren(cast: Cast, client: Client) -> Client:
    client.force_login(cast.owner)
    return client


def change(client: Client, old: str = PASSPHRASE, new: str = NEW, again: str = NEW) -> str:
    answer = client.post("/me/", {"old": old, "new": new, "again": again}, follow=True)
    return answer.content.decode()


def works(cast: Cast, passphrase: str) -> bool:
    return User.objects.get(pk=cast.owner.pk).check_password(passphrase)


def test_a_new_passphrase_is_in_force_and_this_browser_stays_signed_in(
    cast: Cast, wren: Client
) -> None:
    elsewhere = Client()
    elsewhere.force_login(cast.owner)
    assert "is in force" in change(wren)
    assert works(cast, NEW)
    assert wren.get("/me/").status_code == 200
    assert elsewhere.get("/me/").status_code == 302


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"old": "wrong-words-10"}, "not your present passphrase"),
        ({"again": "another-one-55"}, "differ"),
        ({"new": "short", "again": "short"}, "too short"),
        ({"new": "wren.t", "again": "wren.t"}, "too similar"),
        ({"new": "x" * 300, "again": "x" * 300}, "at most 200"),
    ],
)
def test_the_old_passphrase_stays_when_the_new_one_is_refused(
    cast: Cast, wren: Client, said: dict[str, str], says: str
) -> None:
    assert says in change(wren, **said)
    assert works(cast, PASSPHRASE)


def test_guessing_the_present_passphrase_is_throttled_like_sign_in(
    cast: Cast, wren: Client
) -> None:
    with time_machine.travel("2026-11-25 12:00", tick=False):
        for _ in range(8):
            change(wren, old="wrong-words-10")
        answer = wren.post("/me/", {"old": PASSPHRASE, "new": NEW, "again": NEW})
    assert answer.status_code == 429
    assert works(cast, PASSPHRASE)


def test_the_page_shows_all_that_is_kept(cast: Cast, wren: Client) -> None:
    page = wren.get("/me/").content.decode()
    assert "wren.t" in page
    assert "Metals 1, B" in page
    assert "school's settings" not in page.split("<footer")[0]
