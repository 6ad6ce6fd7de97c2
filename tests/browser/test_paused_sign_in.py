"""Sign-in paused by somebody's guesses, and the door code that opens it, on desk and phone."""

from __future__ import annotations

import pytest
from django.test import Client

from classroom.models import SignInCount
from classroom.signin.known_devices import door_code_of
from tests.people import PASSPHRASE, Cast

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_door_code_opens_during_somebody_elses_pause(visitor: Visitor, cast: Cast) -> None:
    guess = {"username": "wren.t", "password": "wrong-words-10"}
    Client().post("/sign-in/", guess)
    SignInCount.objects.update(level=14)  # as after some minutes of guessing
    Client().post("/sign-in/", guess)
    page = visitor.sign_in("wren.t")
    page.get_by_role("heading", name="Sign-in is paused").wait_for()
    assert page.get_by_text("minutes and try again").count()
    visitor.look("sign-in-paused")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_label("Door code").fill(door_code_of(cast.owner))
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(visitor.base + "/")
    visitor.go("/me/")
    assert page.get_by_text(door_code_of(cast.owner)).count()
    visitor.look("own-account-with-door-code")
