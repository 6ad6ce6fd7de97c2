"""Four people before each page of briefs, projects and patterns."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from studio.models import Pattern
from tests.people import Cast, signed_in

# page, method, and the answers to teacher, owner, classmate and outsider; a classmate shares
# the brief, but neither the project nor the pattern
PAGES = [
    ("briefs", "get", None, 200, 200, 200, 200),
    ("brief_new", "get", "course", 200, 403, 403, 404),
    ("brief", "get", "brief", 200, 200, 200, 404),
    ("brief_edit", "get", "brief", 200, 403, 403, 404),
    ("brief_close", "post", "brief", 302, 403, 403, 404),
    ("brief_open", "post", "brief", 302, 403, 403, 404),
    ("project_start", "post", "brief", 403, 302, 302, 403),
    ("project", "get", "project", 200, 200, 404, 404),
    ("pattern_upload", "get", "project", 403, 200, 404, 403),
    ("pattern", "get", "pattern", 200, 200, 404, 404),
    ("pattern_file", "get", "pattern", 200, 200, 404, 404),
    ("pattern_relabel", "post", "pattern", 403, 409, 404, 403),
    ("pattern_metal", "post", "pattern", 403, 200, 404, 403),
    ("pattern_hand_in", "post", "pattern", 403, 302, 404, 403),
    ("pattern_take_back", "post", "pattern", 403, 302, 404, 403),
    ("pattern_use_again", "post", "pattern", 403, 409, 404, 403),
    ("project_versions", "get", "project", 200, 200, 404, 404),
    ("patterns_waiting", "get", None, 200, 403, 403, 200),
    ("patterns_approve", "post", None, 409, 403, 403, 409),
    ("pattern_review", "get", "pattern", 200, 403, 403, 404),
]


@pytest.mark.parametrize(
    ("name", "method", "about", "teacher", "owner", "classmate", "outsider"),
    PAGES,
    ids=[row[0] for row in PAGES],
)
def test_four_people_before_the_door(
    cast: Cast,
    pattern: Pattern,
    name: str,
    method: str,
    about: str | None,
    teacher: int,
    owner: int,
    classmate: int,
    outsider: int,
) -> None:
    keys = {
        "course": cast.course.pk,
        "brief": pattern.project.brief_id,
        "project": pattern.project_id,
        "pattern": pattern.pk,
    }
    address = reverse(name, args=[keys[about]] if about else [])
    asked = (
        (cast.outsider, outsider),
        (cast.classmate, classmate),
        (cast.owner, owner),
        (cast.teacher, teacher),
    )
    for person, expected in asked:
        answer: Any = getattr(signed_in(person), method)(address)
        assert answer.status_code == expected, f"{person} {method} {address}"
        if answer.streaming:
            b"".join(answer.streaming_content)  # read to its end, the file is closed


def test_a_teacher_of_another_course_and_a_student_elsewhere_see_nothing(
    cast: Cast, pattern: Pattern
) -> None:
    for name, key in (
        ("brief", pattern.project.brief_id),
        ("project", pattern.project_id),
        ("pattern", pattern.pk),
        ("pattern_file", pattern.pk),
    ):
        for person in (cast.other_teacher, cast.outside_student):
            assert signed_in(person).get(reverse(name, args=[key])).status_code == 404


@pytest.mark.parametrize(
    "name", [row[0] for row in PAGES if row[1] == "post" and row[2] is not None]
)
def test_deeds_are_not_done_by_a_link(cast: Cast, pattern: Pattern, name: str) -> None:
    keys = {"brief": pattern.project.brief_id, "pattern": pattern.pk}
    about = next(row[2] for row in PAGES if row[0] == name)
    person = cast.teacher if name.startswith("brief") else cast.owner
    address = reverse(name, args=[keys[str(about)]])
    assert signed_in(person).get(address).status_code == 405
