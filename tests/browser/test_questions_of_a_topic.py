"""A student answers a topic's questions on a desk's screen and on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from classroom.models import QuestionAttempt, Topic
from classroom.safety.topics import seed_topics
from tests.people import Cast

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def answer(visitor: Visitor, topic: Topic, *, right: bool) -> None:
    """Choose by the words that a student reads; the order is another one each time."""
    for question in topic.questions:
        group = visitor.page.get_by_role("group", name=question["text"])
        said = question["right"] if right else question["wrong"][0]
        group.get_by_label(said, exact=True).check()
    visitor.page.get_by_role("button", name="Hand in my answers").click()


def test_a_wrong_answer_is_explained_and_all_right_leads_to_the_check(
    visitor: Visitor, cast: Cast
) -> None:
    seed_topics(cast.school)
    saw = Topic.objects.get(school=cast.school, code="saw-frame")
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    visitor.come_in(cast.owner.username)
    visitor.go(f"/safety/{saw.pk}/")
    visitor.look("topic")
    visitor.page.get_by_role("link", name="Start").click()
    visitor.look("questions")
    answer(visitor, saw, right=False)
    expect(visitor.page.get_by_text(saw.questions[0]["why"])).to_be_visible()
    visitor.look("answers-wrong")
    visitor.page.get_by_role("link", name="Try again").click()
    expect(visitor.page.get_by_text("Read the lesson once more")).to_be_visible()
    visitor.look("pause")
    visitor.go(f"/safety/{drill.pk}/questions/")
    answer(visitor, drill, right=True)
    expect(visitor.page.get_by_text("Next: the practical check")).to_be_visible()
    assert QuestionAttempt.objects.filter(passed=True).count() == 1
