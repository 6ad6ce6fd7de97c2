"""Who guesses is slowed, and nobody else: growing pauses, known devices, the door code."""

from __future__ import annotations

import datetime as dt
import io
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from time_machine import Traveller

from classroom.models import History, SignInCount, User
from classroom.signin import ONE_ACCOUNT, ONE_CLIENT, ONE_GUESSER, client_of
from classroom.signin.known_devices import ACCOUNTS_MOST, COOKIE, door_code_of
from classroom.signin.passphrases import choose_passphrase, issue_cards
from classroom.signin.slowing import Count, Curve, Try, clear_forgotten, key_of
from tests.classroom.race import AT_ONCE, outcomes
from tests.clocks import EARLY, stopped_at
from tests.people import PASSPHRASE, Cast, is_in

clock = stopped_at(EARLY, always=True)


WRONG = "wrong-words-10"


def try_in(client: Client, name: str, passphrase: str = PASSPHRASE, **more: Any) -> Any:
    at = {"REMOTE_ADDR": more.pop("at")} if "at" in more else {}
    return client.post("/sign-in/", {"username": name, "password": passphrase, **more}, **at)


def guess(client: Client, name: str, times: int, **more: Any) -> Any:
    for _ in range(times):
        answer = try_in(client, name, WRONG, **more)
    return answer


def known_device(name: str) -> Client:
    """A browser on which somebody has signed in, and out again."""
    client = Client()
    assert try_in(client, name).status_code == 302
    client.post(reverse("sign_out"))
    return client


# How the pauses grow


def test_pauses_double_up_to_five_minutes_and_no_further(
    cast: Cast, client: Client, clock: Traveller
) -> None:
    guess(client, "wren.t", 4)
    pauses = []
    for _ in range(11):
        guess(client, "wren.t", 1)
        pauses.append(int(try_in(client, "wren.t").headers["Retry-After"]))
        clock.shift(pauses[-1])
    assert pauses == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300]


def test_tries_during_a_pause_do_not_make_it_longer(
    cast: Cast, client: Client, clock: Traveller
) -> None:
    for _ in range(9):
        guess(client, "wren.t", 1)
        clock.shift(10)
    answer = guess(client, "wren.t", 1)
    clock.shift(-10)
    guess(client, "wren.t", 1)
    before = list(SignInCount.objects.order_by("key").values())
    for _ in range(40):
        answer = guess(client, "wren.t", 1)
    assert answer.status_code == 429
    assert list(SignInCount.objects.order_by("key").values()) == before
    clock.shift(int(answer.headers["Retry-After"]))
    try_in(client, "wren.t")
    assert is_in(client)


@pytest.mark.parametrize("name", ["wren.t", "nobody.here"])
def test_a_try_during_a_pause_costs_no_hash_and_writes_nothing(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    guess(client, name, 5)

    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("a passphrase was hashed")

    monkeypatch.setattr(User, "check_password", refuse)
    monkeypatch.setattr(User, "set_password", refuse)
    with CaptureQueriesContext(connection) as asked:
        assert try_in(client, name).status_code == 429
    assert not [one for one in asked if not one["sql"].startswith("SELECT")]


def test_an_unknown_name_is_paused_in_the_same_words_as_a_known_one(
    cast: Cast, client: Client
) -> None:
    pages = []
    for name in ("wren.t", "wren.x"):
        guess(client, name, 5)
        pages.append(try_in(client, name, door_code="k7m2-9qxd").content.decode())
    csrf = [page.split('name="csrfmiddlewaretoken" value="')[1][:64] for page in pages]
    assert pages[0].replace(csrf[0], "") == (
        pages[1].replace(csrf[1], "").replace("wren.x", "wren.t")
    )


def test_slips_are_forgotten_by_the_hour_and_by_a_right_try(
    cast: Cast, client: Client, clock: Traveller
) -> None:
    guess(client, "wren.t", 4)
    clock.shift(dt.timedelta(hours=1))
    guess(client, "wren.t", 2)
    assert try_in(client, "wren.t").status_code == 302
    client.post(reverse("sign_out"))
    client.cookies.clear()
    for _ in range(10):  # not held against the account from elsewhere either
        guess(client, "wren.t", 4)
        assert try_in(client, "wren.t").status_code == 302
        client.cookies.clear()


def test_signing_in_without_a_slip_writes_nothing_down(cast: Cast, client: Client) -> None:
    with CaptureQueriesContext(connection) as asked:
        try_in(client, "wren.t")
    assert is_in(client)
    table = SignInCount._meta.db_table
    assert not [one for one in asked if table in one["sql"] and "SELECT" not in one["sql"]]


# The guesser, not the account


def test_the_teacher_is_not_locked_out_by_a_class_at_the_same_address(cast: Cast) -> None:
    desk = known_device("marit.quay")
    guess(Client(), "marit.quay", 40)
    try_in(desk, "marit.quay")
    assert is_in(desk)


def test_a_known_device_has_a_count_of_its_own(cast: Cast) -> None:
    device, other = known_device("wren.t"), known_device("wren.t")
    assert guess(device, "wren.t", 6).status_code == 429
    assert try_in(other, "wren.t").status_code == 302
    assert try_in(Client(), "wren.t").status_code == 302


def test_a_device_that_knows_a_classmate_only_is_no_known_device(cast: Cast) -> None:
    device = known_device("odd.f")
    assert guess(device, "wren.t", 6).status_code == 429
    assert try_in(device, "wren.t").status_code == 429
    assert try_in(device, "odd.f").status_code == 302


def test_a_new_passphrase_ends_what_a_device_knew(cast: Cast) -> None:
    device = known_device("wren.t")
    choose_passphrase(cast.owner, "another-brass-boat-17")
    guess(Client(), "wren.t", 5)
    assert try_in(device, "wren.t", "another-brass-boat-17").status_code == 429


def test_who_changes_the_passphrase_keeps_the_own_device_known(cast: Cast, client: Client) -> None:
    try_in(client, "wren.t")
    new = "another-brass-boat-17"
    client.post(reverse("own_account"), {"old": PASSPHRASE, "new": new, "again": new})
    client.post(reverse("sign_out"))
    guess(Client(), "wren.t", 5)
    assert try_in(client, "wren.t", new).status_code == 302


def test_guessing_at_the_present_passphrase_from_an_open_session_is_slowed(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.owner)
    new = "another-brass-boat-17"
    for _ in range(6):
        page = client.post(reverse("own_account"), {"old": WRONG, "new": new, "again": new})
    assert "Wait 1 second and" in page.content.decode()
    assert User.objects.get(pk=cast.owner.pk).check_password(PASSPHRASE)
    assert try_in(Client(), "wren.t").status_code == 429


@pytest.mark.parametrize(
    "spoil", [lambda told: told[:-1], lambda told: "x", lambda told: told.replace(".", "-", 1)]
)
def test_a_forged_cookie_makes_no_known_device(cast: Cast, spoil: Any) -> None:
    device = known_device("wren.t")
    device.cookies[COOKIE] = spoil(device.cookies[COOKIE].value)
    guess(Client(), "wren.t", 5)
    assert try_in(device, "wren.t").status_code == 429


def test_an_old_cookie_makes_no_known_device(cast: Cast, clock: Traveller) -> None:
    device = known_device("wren.t")
    clock.shift(dt.timedelta(days=181))
    guess(Client(), "wren.t", 5)
    assert try_in(device, "wren.t").status_code == 429


def test_the_cookie_is_out_of_a_scripts_reach_and_names_a_few_people_only(cast: Cast) -> None:
    client = Client()
    people = [
        User.objects.create_user(
            f"somebody.{number}", PASSPHRASE, display_name="P", school=cast.school, role="student"
        )
        for number in range(ACCOUNTS_MOST + 2)
    ]
    for person in people:
        try_in(client, person.username)
        client.post(reverse("sign_out"))
    cookie = client.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    assert cookie.value.split(":")[0].count(".") == ACCOUNTS_MOST
    assert "somebody" not in cookie.value  # a word too long to come about by chance
    guess(Client(), people[-1].username, 5)
    guess(Client(), people[0].username, 5)
    assert try_in(client, people[-1].username).status_code == 302
    client.post(reverse("sign_out"))
    assert try_in(client, people[0].username).status_code == 429


# The door code


def test_the_door_code_opens_during_a_pause_of_somebody_elses_making(
    cast: Cast, client: Client
) -> None:
    guess(client, "wren.t", 40)
    code = door_code_of(cast.owner)
    assert try_in(client, "wren.t", WRONG, door_code=code).status_code == 200
    assert try_in(client, "wren.t", door_code="k7m2-9qxd").status_code == 429
    assert try_in(client, "wren.t", door_code=door_code_of(cast.classmate)).status_code == 429
    assert not is_in(client)
    try_in(client, "wren.t", door_code=f" {code.upper().replace('-', ' ').replace('0', 'O')}")
    assert is_in(client)


def test_guesses_with_the_door_code_are_slowed_as_well(cast: Cast, client: Client) -> None:
    code = door_code_of(cast.owner)
    assert guess(client, "wren.t", 6, door_code=code).status_code == 429


def test_the_door_code_stands_on_the_card_and_on_the_own_page_and_changes_with_the_passphrase(
    cast: Cast, client: Client
) -> None:
    before = door_code_of(cast.owner)
    card = issue_cards([cast.owner], acting=cast.teacher)[0]
    owner = User.objects.get(pk=cast.owner.pk)
    assert card.door_code == door_code_of(owner) != before
    client.force_login(owner)
    assert card.door_code in client.get(reverse("own_account")).content.decode()
    client.force_login(cast.teacher)
    page = client.post(reverse("teacher_card", args=[0]))
    assert page.status_code == 404
    asked = {"card": f"{owner.pk}-{import_module('classroom.signin.known_devices').mark_of(owner)}"}
    page = client.post(reverse("sign_in_cards", args=[cast.course.pk]), asked).content.decode()
    assert door_code_of(User.objects.get(pk=owner.pk)) in page


# Spread guesses


def test_many_clients_at_one_account_are_slowed_together(cast: Cast) -> None:
    desk = known_device("marit.quay")
    for number in range(ONE_ACCOUNT.free):
        assert guess(Client(), "marit.quay", 1, at=f"198.51.100.{number}").status_code == 200
    assert try_in(Client(), "marit.quay", at="203.0.113.9").status_code == 429
    assert try_in(Client(), "wren.t", at="203.0.113.9").status_code == 302
    assert try_in(desk, "marit.quay").status_code == 302
    code = door_code_of(cast.teacher)
    assert try_in(Client(), "marit.quay", at="203.0.113.9", door_code=code).status_code == 302


def test_one_client_at_many_accounts_is_slowed(cast: Cast, clock: Traveller) -> None:
    desk, spray = known_device("marit.quay"), Client()
    for number in range(ONE_CLIENT.free):
        assert guess(spray, f"student.{number}", 1).status_code == 200
    answer = try_in(spray, "wren.t")
    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "1")
    assert try_in(Client(), "wren.t", at="203.0.113.9").status_code == 302
    assert try_in(desk, "marit.quay").status_code == 302
    clock.shift(dt.timedelta(hours=1))
    assert try_in(spray, "wren.t").status_code == 302


def test_a_pupils_own_machine_guesses_on_that_pupils_count_not_on_the_schools(cast: Cast) -> None:
    for _ in range(2):  # another browser of the same pupil does not begin anew
        machine = known_device("odd.f")
        for number in range(ONE_CLIENT.free // 2):
            guess(machine, f"student.{number}", 1)
    assert guess(machine, "student.x", 1).status_code == 429
    assert try_in(Client(), "wren.t").status_code == 302


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:0:1::1", "2001:db8:0:1:ffff::2", True),
        ("2001:db8:0:1::1", "2001:db8:0:2::1", False),
        ("::ffff:192.0.2.7", "192.0.2.7", True),
        ("192.0.2.7", "192.0.2.8", False),
        ("fe80::1%eth0", "fe80::1%eth1", True),
        ("", "nonsense", True),
    ],
)
def test_a_client_is_an_address_and_in_ipv6_a_whole_household(
    one: str, other: str, same: bool
) -> None:
    asked = RequestFactory()
    first, second = (client_of(asked.get("/", REMOTE_ADDR=at)) for at in (one, other))
    assert (first == second) is same


def looked_at_in_a_day(curve: Curve) -> int:
    """What a guesser gets who tries again the very moment each pause ends."""
    at, level, looked_at, last = 0.0, 0.0, 0, 0.0
    while at < 86_400:
        level = min(curve.most, curve.left_of(level, dt.timedelta(seconds=at - last)) + 1)
        looked_at, last = looked_at + 1, at
        at += curve.pause(level).total_seconds()
    return looked_at


def test_a_day_of_guessing_comes_to_what_the_guide_says() -> None:
    assert looked_at_in_a_day(ONE_GUESSER) <= 302
    assert looked_at_in_a_day(ONE_ACCOUNT) <= 317
    assert looked_at_in_a_day(ONE_CLIENT) <= 8_750


# The rows


def test_a_clock_that_was_set_back_holds_nobody_up(
    cast: Cast, client: Client, clock: Traveller
) -> None:
    guess(client, "wren.t", 5)
    clock.shift(dt.timedelta(hours=-1))
    assert try_in(client, "wren.t").status_code == 302


def test_rows_that_say_nothing_any_more_are_cleared_away(
    cast: Cast, client: Client, clock: Traveller, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(5):
        guess(client, f"student.{number}", 1)
    assert SignInCount.objects.count() == 11
    assert clear_forgotten() == 0
    clock.shift(dt.timedelta(days=1))
    monkeypatch.setattr("classroom.signin.slowing._cleared_at", -1e9)
    guess(client, "wren.t", 1)
    assert SignInCount.objects.count() == 3


@pytest.mark.django_db(transaction=True)
def test_of_many_at_the_same_moment_one_is_looked_at_when_pauses_have_begun(
    clock: Traveller,
) -> None:
    count = Count(key_of("t"), ONE_GUESSER)
    for _ in range(ONE_GUESSER.free):
        Try([count]).end(right=False)
    clock.shift(2)
    paused: list[object] = []

    def deed(number: int) -> None:
        trying = Try([count])
        pause = trying.begin()
        paused.append(pause)
        if pause is None:
            trying.end(right=False)

    assert outcomes(deed) == {"done": AT_ONCE}
    assert paused.count(None) == 1
    assert SignInCount.objects.get().level == pytest.approx(ONE_GUESSER.free + 1, abs=0.1)


@pytest.mark.django_db(transaction=True)
def test_wrong_tries_at_the_same_moment_are_all_counted() -> None:
    count = Count(key_of("t"), ONE_CLIENT)
    assert outcomes(lambda number: Try([count]).end(right=False)) == {"done": AT_ONCE}
    assert SignInCount.objects.get().level == AT_ONCE


@pytest.mark.django_db(transaction=True)
def test_what_was_counted_before_in_other_tables_goes_with_the_migration() -> None:
    migration = import_module("classroom.migrations.0004_guesses_are_slowed")
    with connection.schema_editor() as editor:
        for table in migration.EARLIER[1:]:
            editor.execute(f"CREATE TABLE {table} (username varchar(255), ip_address varchar(39))")
            editor.execute(f"INSERT INTO {table} VALUES ('wren.t', '192.0.2.7')")
        migration.drop_earlier_counts(apps, editor)
        migration.drop_earlier_counts(apps, editor)
    assert not [one for one in connection.introspection.table_names() if one.startswith("axes_")]


# The way back at the server


def let_in(*words: str) -> str:
    said = io.StringIO()
    call_command("let_in", *words, stdout=said)
    return said.getvalue()


def test_a_teacher_who_is_held_up_is_let_in_at_the_server(cast: Cast, client: Client) -> None:
    guess(client, "marit.quay", 9)
    said = let_in(" Marit.Quay ")
    assert "no pause is left" in said
    assert door_code_of(cast.teacher) in said
    assert History.objects.about(cast.teacher).get(verb="let-in").actor is None
    guess(client, "marit.quay", 9)  # somebody goes on guessing
    assert try_in(client, "marit.quay").status_code == 429
    try_in(client, "marit.quay", door_code=door_code_of(cast.teacher))
    assert is_in(client)


def test_let_in_with_a_new_passphrase(cast: Cast, client: Client) -> None:
    guess(client, "marit.quay", 9)
    said = let_in("marit.quay", "--new-passphrase")
    passphrase = said.split("New passphrase")[1].split()[0]
    teacher = User.objects.get(pk=cast.teacher.pk)
    assert door_code_of(teacher) in said
    assert passphrase not in str(History.objects.values())
    assert try_in(client, "marit.quay").status_code == 200
    try_in(client, "marit.quay", passphrase)
    assert is_in(client)


def test_let_in_says_whom_it_does_not_know(cast: Cast) -> None:
    User.objects.filter(pk=cast.owner.pk).update(is_active=False)
    for name, says in (("nobody", "Nobody here"), ("wren.t", "is closed")):
        with pytest.raises(CommandError, match=says) as refused:
            let_in(name)
        assert refused.value.returncode == 2
