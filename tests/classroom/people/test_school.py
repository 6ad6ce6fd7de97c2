"""The school's settings and teachers, and those who look after them."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import History, School, User
from classroom.people.teachers import add_teacher, close_account, set_keeper
from classroom.refusals import Refused
from classroom.signin.passphrases import mark_of
from tests.people import PASSPHRASE, Cast

SAID = {
    "name": "Saltmarsh School",
    "currency": "CAD",
    "units": "in",
    "language": "en",
    "retest_after_weeks": 2,
    "keep_years": 2,
    "paper": "letter",
    "time_zone": "America/Halifax",
    "local_rules": "No rings.",
}


def test_settings_are_saved_with_a_row_in_the_diary(cast: Cast, desk: Client) -> None:
    desk.post("/school/", SAID)
    school = School.objects.get(pk=cast.school.pk)
    assert (school.name, school.currency, school.units) == ("Saltmarsh School", "CAD", "in")
    assert History.objects.about(school).count() == 1
    desk.post("/school/", SAID)
    assert History.objects.about(school).count() == 1


def test_a_refused_setting_changes_nothing_not_even_the_pages_head(
    cast: Cast, desk: Client
) -> None:
    page = desk.post("/school/", SAID | {"name": "Elsewhere", "currency": "$"}).content.decode()
    assert "Three capital letters" in page
    assert School.objects.get(pk=cast.school.pk).name == "Saltmarsh Harbour School"
    assert "Elsewhere" not in page.split("<main")[0]


def test_a_time_zone_that_the_list_lacks_is_not_lost(cast: Cast, desk: Client) -> None:
    School.objects.filter(pk=cast.school.pk).update(time_zone="US/Eastern")
    desk.post("/school/", SAID | {"time_zone": "US/Eastern"})
    assert School.objects.get(pk=cast.school.pk).time_zone == "US/Eastern"


def test_a_new_teacher_gets_a_card_that_opens_the_door(cast: Cast, desk: Client) -> None:
    said = {"display_name": "Tove Strand"}
    page = desk.post(reverse("teacher_new"), said).content.decode()
    secret = re.findall(r"[a-z]+-[a-z]+-[a-z]+-[a-z]+-\d\d", page)[0]
    tove = User.objects.get(username="tove.strand")
    assert (tove.role, tove.keeps_school, tove.school) == ("teacher", False, cast.school)
    door = Client()
    door.post("/sign-in/", {"username": "tove.strand", "password": secret})
    assert door.get("/courses/").status_code == 200


def test_a_second_click_adds_no_second_teacher(cast: Cast, desk: Client) -> None:
    said = {"display_name": "Tove Strand", "keeps_school": "on"}
    desk.post(reverse("teacher_new"), said)
    again = desk.post(reverse("teacher_new"), said).content.decode()
    assert "There is a teacher Tove Strand already" in again
    assert User.objects.filter(display_name="Tove Strand").count() == 1


def test_a_teacher_who_lost_the_card_gets_another_once(cast: Cast, desk: Client) -> None:
    url = reverse("teacher_card", args=[cast.other_teacher.pk])
    said = {"mark": mark_of(cast.other_teacher)}
    assert desk.post(url, said).status_code == 200
    assert desk.post(url, said).status_code == 409
    assert not User.objects.get(pk=cast.other_teacher.pk).check_password(PASSPHRASE)


def test_a_closed_account_is_out_at_once_and_can_come_back(cast: Cast, desk: Client) -> None:
    sten = Client()
    sten.force_login(cast.other_teacher)
    desk.post(reverse("teacher_close", args=[cast.other_teacher.pk]))
    assert sten.get("/courses/").status_code == 302
    desk.post(reverse("teacher_open", args=[cast.other_teacher.pk]))
    sten.post("/sign-in/", {"username": "sten.buoy", "password": PASSPHRASE})
    assert sten.get("/courses/").status_code == 200


def test_nobody_closes_their_own_account(cast: Cast) -> None:
    with pytest.raises(Refused, match="your own account"):
        close_account(cast.teacher, acting=cast.teacher)


def test_one_keeper_always_stays(cast: Cast) -> None:
    with pytest.raises(Refused, match="another teacher first"):
        set_keeper(cast.teacher, False, acting=cast.teacher)
    set_keeper(cast.other_teacher, True, acting=cast.teacher)
    set_keeper(cast.teacher, False, acting=cast.teacher)
    keepers = User.objects.filter(school=cast.school, keeps_school=True)
    assert list(keepers) == [cast.other_teacher]


def test_a_keeper_whose_account_is_closed_does_not_count(cast: Cast) -> None:
    set_keeper(cast.other_teacher, True, acting=cast.teacher)
    close_account(cast.other_teacher, acting=cast.teacher)
    with pytest.raises(Refused, match="another teacher first"):
        set_keeper(cast.teacher, False, acting=cast.teacher)


def test_handing_the_settings_over_leads_to_a_page_one_may_see(cast: Cast, desk: Client) -> None:
    set_keeper(cast.other_teacher, True, acting=cast.teacher)
    answer = desk.post(reverse("teacher_keeper", args=[cast.teacher.pk]), {"keeps": "no"})
    assert answer.headers["Location"] == reverse("first_page")
    assert desk.get("/school/").status_code == 403


def test_a_name_at_another_school_is_no_hindrance(cast: Cast) -> None:
    card = add_teacher("Ines Weir", keeps_school=False, acting=cast.teacher)
    assert card.person.username == "ines.weir2"
