"""The queue of waiting patterns, the page to decide on one, and several approved at once."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from classroom.models import Role, Seat, User
from studio.models import Brief, Pattern, Project
from studio.steps.briefs.write import change_brief
from studio.steps.patterns.take_back import take_back
from tests.people import Cast, signed_in
from tests.studio.patterns.making import (
    BAR,
    DISC,
    fresh,
    handed_in,
    make_brief,
    make_project,
    words,
)

QUEUE = "/patterns/"
TOGETHER = "/patterns/approve/"


def class_of(cast: Cast, brief: Brief, count: int, data: bytes = DISC) -> list[Pattern]:
    """Patterns handed in by `count` more students of the course."""
    patterns = []
    for number in range(count):
        student = User.objects.create_user(
            f"hand.{number}", display_name=f"Hand {number}", role=Role.STUDENT, school=cast.school
        )
        seat = Seat.objects.create(course=cast.course, student=student)
        patterns.append(handed_in(make_project(cast, brief, seat), data))
    return patterns


def test_the_queue_shows_the_longest_waiting_first(cast: Cast) -> None:
    brief = make_brief(cast)
    first, second = class_of(cast, brief, 2)
    page = words(signed_in(cast.teacher).get(QUEUE))
    assert page.index("Hand 0") < page.index("Hand 1")
    assert f'name="pattern" value="{first.pk}"' in page
    assert reverse("pattern_review", args=[second.pk]) in page


def test_drafts_and_decided_patterns_are_not_in_the_queue(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    take_back(pattern, acting=cast.owner)
    assert "No pattern is waiting" in words(signed_in(cast.teacher).get(QUEUE))


def test_the_queue_narrows_to_a_brief_and_survives_nonsense(cast: Cast) -> None:
    brief = make_brief(cast)
    class_of(cast, brief, 1)
    other = Brief.objects.create(
        course=cast.course, title="Key tag", allowance=3, created_by=cast.teacher
    )
    client = signed_in(cast.teacher)
    assert "Hand 0" in words(client.get(QUEUE, {"brief": brief.pk}))
    assert "Hand 0" not in words(client.get(QUEUE, {"brief": other.pk}))
    for query in ({"brief": "x"}, {"course": "999"}, {"page": "-4"}):
        assert client.get(QUEUE, query).status_code == 200


def test_the_queue_asks_the_database_the_same_number_of_times_however_long_it_is(
    cast: Cast, django_assert_max_num_queries: Any, django_assert_num_queries: Any
) -> None:
    brief = make_brief(cast)
    class_of(cast, brief, 2)
    client = signed_in(cast.teacher)
    with django_assert_max_num_queries(14) as few:
        client.get(QUEUE)
    more = Seat.objects.create(course=cast.course, student=_student(cast))
    for seat in (cast.seat, cast.classmate_seat, more):
        handed_in(make_project(cast, brief, seat))
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(QUEUE)


def _student(cast: Cast) -> User:
    return User.objects.create_user(
        "more.hands", display_name="More Hands", role=Role.STUDENT, school=cast.school
    )


def test_several_are_approved_at_once_and_placed_each_alone(
    cast: Cast, placed: list[list[Project]], django_capture_on_commit_callbacks: Any
) -> None:
    patterns = class_of(cast, make_brief(cast), 3)
    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in(cast.teacher).post(
            TOGETHER, {"pattern": [p.pk for p in patterns[:2]], "placing": "alone"}, follow=True
        )
    assert "2 patterns are approved." in words(answer)
    assert [len(group) for group in placed] == [1, 1]
    patterns[2].refresh_from_db()
    assert patterns[2].state == Pattern.State.HANDED_IN


def test_several_are_placed_together_when_asked(
    cast: Cast, placed: list[list[Project]], django_capture_on_commit_callbacks: Any
) -> None:
    patterns = class_of(cast, make_brief(cast), 3)
    with django_capture_on_commit_callbacks(execute=True):
        signed_in(cast.teacher).post(
            TOGETHER, {"pattern": [p.pk for p in patterns], "placing": "together"}
        )
    assert [len(group) for group in placed] == [3]


def test_placing_can_be_left_for_later(
    cast: Cast, placed: list[list[Project]], django_capture_on_commit_callbacks: Any
) -> None:
    (pattern,) = class_of(cast, make_brief(cast), 1)
    with django_capture_on_commit_callbacks(execute=True):
        signed_in(cast.teacher).post(TOGETHER, {"pattern": pattern.pk, "placing": "later"})
    assert placed == []
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.APPROVED


def test_what_was_taken_back_meanwhile_is_left_out_and_named(
    cast: Cast, placed: list[list[Project]]
) -> None:
    one, two = class_of(cast, make_brief(cast), 2)
    take_back(one, acting=one.project.student)
    answer = signed_in(cast.teacher).post(
        TOGETHER, {"pattern": [one.pk, two.pk], "placing": "later"}, follow=True
    )
    assert "1 pattern is approved." in words(answer)
    assert "1 pattern was not approved" in words(answer)


@pytest.mark.parametrize(
    "posted",
    [
        {},
        {"placing": "alone"},
        {"placing": "sideways", "pattern": "1"},
        {"placing": "alone", "pattern": ["x", "-1", "9" * 30]},
    ],
)
def test_nothing_ticked_or_nonsense_is_answered_in_words(
    cast: Cast, posted: dict[str, Any]
) -> None:
    class_of(cast, make_brief(cast), 1)
    assert signed_in(cast.teacher).post(TOGETHER, posted).status_code in (302, 409)
    assert Pattern.objects.get().state == Pattern.State.HANDED_IN


def test_a_teacher_elsewhere_approves_nothing_here(cast: Cast) -> None:
    (pattern,) = class_of(cast, make_brief(cast), 1)
    for stranger in (cast.other_teacher, cast.outsider):
        signed_in(stranger).post(TOGETHER, {"pattern": pattern.pk, "placing": "later"})
        assert "Hand 0" not in words(signed_in(stranger).get(QUEUE))
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.HANDED_IN


def test_the_page_to_decide_goes_on_to_the_next_one_waiting(
    cast: Cast, placed: list[list[Project]]
) -> None:
    one, two = class_of(cast, make_brief(cast), 2)
    client = signed_in(cast.teacher)
    answer = client.post(
        reverse("pattern_review", args=[one.pk]), {"decision": "approve", "remark": ""}
    )
    assert answer.headers["Location"] == reverse("pattern_review", args=[two.pk])
    answer = client.post(
        reverse("pattern_review", args=[two.pk]),
        {"decision": "return", "remark": "Too pointed."},
    )
    assert answer.headers["Location"] == QUEUE
    two.refresh_from_db()
    assert (two.state, two.remark) == (Pattern.State.RETURNED, "Too pointed.")


def test_returning_without_a_remark_keeps_the_page_and_says_why(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    answer = signed_in(cast.teacher).post(
        reverse("pattern_review", args=[pattern.pk]), {"decision": "return", "remark": " "}
    )
    assert answer.status_code == 200
    assert "Write what the student should change." in words(answer)
    assert fresh(pattern.project).stage == Project.Stage.HANDED_IN


@pytest.mark.parametrize("decision", ["", "burn", "approve\x00"])
def test_a_decision_that_is_none_changes_nothing(cast: Cast, decision: str) -> None:
    pattern = handed_in(make_project(cast))
    answer = signed_in(cast.teacher).post(
        reverse("pattern_review", args=[pattern.pk]), {"decision": decision, "remark": "x"}
    )
    assert answer.status_code == 200
    assert fresh(pattern.project).stage == Project.Stage.HANDED_IN


def test_a_second_press_on_approve_is_told_that_it_is_done(
    cast: Cast, placed: list[list[Project]]
) -> None:
    pattern = handed_in(make_project(cast))
    client = signed_in(cast.teacher)
    address = reverse("pattern_review", args=[pattern.pk])
    client.post(address, {"decision": "approve", "remark": ""})
    answer = client.post(address, {"decision": "approve", "remark": ""})
    assert answer.status_code == 200
    assert "approved already" in words(answer)


def test_a_stale_review_of_a_pattern_taken_back_says_so(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    take_back(pattern, acting=cast.owner)
    answer = signed_in(cast.teacher).post(
        reverse("pattern_review", args=[pattern.pk]), {"decision": "approve", "remark": ""}
    )
    assert "taken this pattern back" in words(answer)
    assert "This pattern is not waiting" in words(answer)


def test_a_waiting_pattern_that_breaks_new_limits_offers_no_approval(cast: Cast) -> None:
    pattern = handed_in(make_project(cast), BAR)
    brief = pattern.project.brief
    brief.max_width_mm = brief.max_height_mm = Decimal(20)
    change_brief(brief, brief.metals.all(), acting=cast.teacher)
    client = signed_in(cast.teacher)
    address = reverse("pattern_review", args=[pattern.pk])
    page = words(client.get(address))
    assert 'value="approve"' not in page
    assert "stops under the brief’s limits of today" in page
    answer = client.post(address, {"decision": "approve", "remark": ""})
    assert "Hand it back with a remark" in words(answer)
    assert fresh(pattern.project).stage == Project.Stage.HANDED_IN
