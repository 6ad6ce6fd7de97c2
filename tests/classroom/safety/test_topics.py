"""Safety topics: seeded once, reworded with a version, set aside and brought back."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import History, Topic
from classroom.refusals import Refused
from classroom.safety.texts import DEFERRAL, TOPICS
from classroom.safety.topics import Wording, add_topic, reword, seed_topics
from tests.people import Cast


@pytest.fixture
def topic(cast: Cast) -> Topic:
    seed_topics(cast.school)
    return Topic.objects.get(school=cast.school, code="saw-frame")


def said(topic: Topic, **more: Any) -> dict[str, Any]:
    return {
        "title": topic.title,
        "lesson": "\n".join(topic.lesson),
        "checks": "\n".join(topic.checks),
        "valid_days": topic.valid_days,
        "asks_questions": "on",
        "version": topic.version,
    } | more


def test_seeding_twice_is_seeding_once_and_keeps_the_schools_words(
    cast: Cast, topic: Topic
) -> None:
    Topic.objects.filter(pk=topic.pk).update(title="Our saw")
    seed_topics(cast.school)
    assert Topic.objects.filter(school=cast.school).count() == len(TOPICS)
    assert Topic.objects.get(pk=topic.pk).title == "Our saw"


def test_a_new_wording_is_a_new_version_and_the_old_one_stays_readable(
    topic: Topic, desk: Client
) -> None:
    url = reverse("topic_edit", args=[topic.pk])
    desk.post(url, said(topic, lesson="Goggles on.\r\n\r\n  Hair tied. "))
    new = Topic.objects.get(pk=topic.pk)
    assert (new.version, new.lesson) == (2, ["Goggles on.", "Hair tied."])
    before = History.objects.about(topic).get().detail["before"]
    assert before["lesson"] == topic.lesson
    page = desk.get(reverse("topic", args=[topic.pk])).content.decode()
    assert "Earlier wordings" in page


def test_saving_without_a_change_makes_no_version(topic: Topic, desk: Client) -> None:
    desk.post(reverse("topic_edit", args=[topic.pk]), said(topic))
    assert Topic.objects.get(pk=topic.pk).version == 1
    assert not History.objects.about(topic).exists()


def test_two_teachers_rewording_at_once_do_not_lose_one_anothers_words(
    cast: Cast, topic: Topic, desk: Client
) -> None:
    reword(
        topic, Wording("Saw", ["First"], ["Check"], 30), seen_version=1, acting=cast.other_teacher
    )
    page = desk.post(
        reverse("topic_edit", args=[topic.pk]), said(topic, lesson="My own words")
    ).content.decode()
    assert "Somebody else has changed this topic" in page
    assert "My own words" in page
    assert Topic.objects.get(pk=topic.pk).lesson == ["First"]


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"lesson": " \n\u200b\n"}, "required|at least one line"),
        ({"lesson": "x\n" * 31}, "At most 30 lines"),
        ({"checks": "fine\n" + "x" * 301}, "Line 2 has 301 characters"),
        ({"valid_days": "0"}, "greater than or equal to 1"),
        ({"valid_days": "99999"}, "less than or equal to 1826"),
        ({"title": "\u202e"}, "at least one letter"),
    ],
)
def test_a_wording_that_cannot_be_is_refused(
    topic: Topic, desk: Client, wrong: dict[str, Any], says: str
) -> None:
    page = desk.post(reverse("topic_edit", args=[topic.pk]), said(topic, **wrong)).content.decode()
    assert any(one in page for one in says.split("|"))
    assert Topic.objects.get(pk=topic.pk).version == 1


def test_a_school_adds_a_topic_of_its_own_once(cast: Cast, topic: Topic, desk: Client) -> None:
    new = {"title": "Enamel kiln", "lesson": "Hot.", "checks": "Tongs.", "valid_days": "90"}
    desk.post(reverse("topic_new"), new)
    again = desk.post(reverse("topic_new"), new).content.decode()
    assert "There is a topic" in again
    assert Topic.objects.get(school=cast.school, code="enamel-kiln").valid_days == 90
    with pytest.raises(Refused, match="There is a topic"):
        add_topic(Wording("Saw frame", ["x"], ["y"], 1), acting=cast.teacher)


def test_a_topic_is_set_aside_and_brought_back(topic: Topic, desk: Client) -> None:
    for _ in range(2):
        desk.post(reverse("topic_retire", args=[topic.pk]))
    assert "1 out of use" in desk.get("/safety/").content.decode()
    desk.post(reverse("topic_restore", args=[topic.pk]))
    assert Topic.objects.get(pk=topic.pk).retired_at is None
    assert History.objects.about(topic).count() == 2


def test_every_safety_page_defers_to_local_rules(cast: Cast, topic: Topic, desk: Client) -> None:
    for page in ("/safety/", reverse("topic", args=[topic.pk])):
        assert DEFERRAL.replace("'", "&#x27;") in desk.get(page).content.decode()


def test_hostile_wording_is_shown_as_text(topic: Topic, desk: Client) -> None:
    desk.post(
        reverse("topic_edit", args=[topic.pk]), said(topic, lesson="<img src=x onerror=alert(1)>")
    )
    page = desk.get(reverse("topic", args=[topic.pk])).content.decode()
    assert "<img src=x" not in page
