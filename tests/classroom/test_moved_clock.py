"""The clock of the machine is put right by an hour while people are at work."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom import signin
from classroom.files.waiting_files import KEPT, clear_out, set_aside, waiting_file
from classroom.models import Topic
from classroom.safety.questions import PAUSE, pause_until
from classroom.safety.topics import seed_topics
from classroom.signin.slowing import Curve
from tests.clocks import EARLY, stopped_at

from ..people import PASSPHRASE, Cast
from .passing import fail_questions, pass_questions

clock = stopped_at(EARLY, always=True)


MOST_TRIES = 60
HOUR = dt.timedelta(hours=1)
BOTH_WAYS = pytest.mark.parametrize("moved", [HOUR, -HOUR], ids=["forward", "back"])


@BOTH_WAYS
def test_pause_after_failed_questions_is_never_longer_than_a_pause(
    cast: Cast, clock: time_machine.Traveller, moved: dt.timedelta
) -> None:
    seed_topics(cast.school)
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    fail_questions(cast.owner, topic)
    clock.shift(moved)
    until = pause_until(cast.owner, topic)
    assert until is None or until <= EARLY + moved + PAUSE
    clock.shift(PAUSE)
    assert pass_questions(cast.owner, topic).passed


@BOTH_WAYS
def test_whoever_is_signed_in_stays_so_and_is_signed_out_after_the_school_day(
    cast: Cast, client: Client, clock: time_machine.Traveller, moved: dt.timedelta
) -> None:
    client.post(reverse("sign_in"), {"username": cast.owner.username, "password": PASSPHRASE})
    first_page = reverse("first_page")
    clock.shift(moved)
    assert client.get(first_page).status_code == 200
    clock.shift(8 * HOUR)
    assert client.get(first_page).status_code == 200
    clock.shift(4 * HOUR)
    assert client.get(first_page).status_code == 302


@BOTH_WAYS
def test_a_file_that_waits_for_its_size_is_there_and_is_cleared_in_the_end(
    cast: Cast, clock: time_machine.Traveller, moved: dt.timedelta
) -> None:
    waiting = set_aside(cast.owner, cast.course, b"<svg/>", file_name="a.svg")
    clock.shift(moved)
    assert waiting_file(cast.owner, cast.course, waiting.token) == waiting
    clear_out()
    clock.shift(KEPT + HOUR)
    clear_out()
    assert waiting_file(cast.owner, cast.course, waiting.token) is None


@BOTH_WAYS
def test_pause_at_the_door_is_never_longer_than_the_longest_pause(
    cast: Cast, client: Client, clock: time_machine.Traveller, moved: dt.timedelta
) -> None:
    wrong = {"username": cast.owner.username, "password": "wrong-words-10"}
    right = wrong | {"password": PASSPHRASE}
    longest = max(curve.longest for curve in signin_curves())
    told = 0
    for _ in range(MOST_TRIES):  # each pause is waited for, until they are at their longest
        answer = client.post(reverse("sign_in"), wrong)
        told = int(answer.headers.get("Retry-After", 0))
        clock.shift(told)
        if told == longest:
            break
    assert told == longest
    for _ in range(2):  # the first of them may be the one that begins the next pause
        client.post(reverse("sign_in"), wrong)
    client.post(reverse("sign_in"), right)
    assert "_auth_user_id" not in client.session  # it runs
    clock.shift(moved)
    clock.shift(longest + 1)
    client.post(reverse("sign_in"), right)
    assert "_auth_user_id" in client.session


def signin_curves() -> list[Curve]:
    return [value for value in vars(signin).values() if isinstance(value, Curve)]
