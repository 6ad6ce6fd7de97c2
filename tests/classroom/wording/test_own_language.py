"""A language remembered on the account: on bench and safety pages, wherever one signs in."""

from __future__ import annotations

import pytest
from django.test import Client

from classroom.erasing import erase_due
from classroom.models import History, User
from classroom.refusals import Refused
from classroom.wording.own_language import remember_language
from tests.people import PASSPHRASE, Cast


def language_of(client: Client, url: str = "/safety/") -> str:
    page = client.get(url).content.decode()
    return page.split('<html lang="')[1][:2]


def choose(client: Client, language: str) -> str:
    answer = client.post("/me/language/", {"language": language}, follow=True)
    return answer.content.decode()


@pytest.mark.parametrize("who", ["owner", "teacher"])
def test_the_choice_holds_on_every_machine_after_the_next_sign_in(cast: Cast, who: str) -> None:
    person = getattr(cast, who)
    here, elsewhere = Client(), Client()
    here.force_login(person)
    assert language_of(here) == "en"
    assert "salen ahora en este idioma" in choose(here, "es")
    elsewhere.post("/sign-in/", {"username": person.username, "password": PASSPHRASE})
    assert language_of(elsewhere) == language_of(elsewhere, "/me/") == "es"
    here.force_login(cast.classmate)
    assert language_of(here) == "en"


def test_the_schools_language_can_be_taken_again(cast: Cast, client: Client) -> None:
    client.force_login(cast.owner)
    choose(client, "es")
    choose(client, "")
    assert language_of(client) == "en"
    assert User.objects.get(pk=cast.owner.pk).language == ""


def test_a_page_asked_for_in_another_language_wins_until_the_sign_out(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.owner)
    choose(client, "es")
    assert language_of(client, "/safety/?lang=en") == language_of(client) == "en"
    client.post("/sign-out/")
    client.force_login(cast.owner)
    assert language_of(client) == "es"


def test_a_new_choice_ends_what_was_asked_for_earlier(cast: Cast, client: Client) -> None:
    client.force_login(cast.owner)
    client.get("/safety/?lang=en")
    choose(client, "es")
    assert language_of(client) == "es"


def test_a_language_that_the_house_does_not_have_is_refused(cast: Cast, client: Client) -> None:
    with pytest.raises(Refused, match="one of the languages"):
        remember_language(cast.owner, "tlh")
    client.force_login(cast.owner)
    assert client.post("/me/language/", {"language": "<b>"}).status_code == 409
    assert User.objects.get(pk=cast.owner.pk).language == ""


def test_the_same_choice_twice_is_one_row_of_history(cast: Cast) -> None:
    for _ in range(2):
        remember_language(cast.owner, "es")
    assert History.objects.filter(verb="choose-language").count() == 1


def test_an_erased_name_leaves_no_language(cast: Cast) -> None:
    remember_language(cast.owner, "es")
    course = cast.course
    course.ends_on = course.ends_on.replace(year=course.ends_on.year - 20)
    course.starts_on = course.starts_on.replace(year=course.starts_on.year - 20)
    course.save()
    assert cast.owner in erase_due(cast.school, acting=None)
    assert User.objects.get(pk=cast.owner.pk).language == ""
