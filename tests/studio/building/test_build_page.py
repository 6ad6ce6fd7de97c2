"""The page for building, as a browser without scripts and as its script uses it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Pattern, Project
from studio.steps.patterns.build import opened
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.versions import current_pattern
from tests.people import Cast, signed_in
from tests.studio.patterns.making import bring, make_brief, make_project, words

from .making import DISC, HOLE, build, shape

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("evidence")]

SCRIPT = {"X-Building": "1"}


def address(project: Project) -> str:
    return reverse("pattern_build", args=[project.pk])


def do(client: Client, project: Project, deed: str, *, script: bool = True, **fields: Any) -> Any:
    """One deed from a page that was loaded just now."""
    data = {"deed": deed, "base": opened(project).base, **fields}
    sent: dict[str, Any] = {"headers": SCRIPT} if script else {}
    return client.post(address(project), data, **sent)


def steps(project: Project) -> list[dict[str, Any]]:
    return list(opened(project).draft.recipe.to_json()["steps"])


@pytest.fixture
def student(cast: Cast) -> Client:
    return signed_in(cast.owner)


def test_looking_at_the_page_makes_nothing(student: Client, project: Project) -> None:
    page = words(student.get(address(project)))
    assert "Nothing is on the paper yet" in page
    assert "Tide pendant" in page
    assert not Pattern.objects.exists()


def test_a_pendant_is_built_with_plain_forms_and_handed_in(
    student: Client, project: Project
) -> None:
    """No scripts: each answer leads back to the page, with the step still chosen."""
    answer = do(student, project, "add", script=False, kind="circle", role="metal")
    assert answer.url == f"{address(project)}?item=1#workbench"
    page = words(student.get(answer.url))
    assert 'name="f-diameter" value="36 mm"' in page  # six tenths of the brief's 60 mm
    do(student, project, "set", script=False, item="1", **{"f-diameter": "3,2 cm"})
    do(student, project, "add", script=False, kind="drop", role="window")
    do(
        student, project, "set", script=False, item="2",
        **{"f-copies": "around", "f-count": "3", "f-y": "7", "f-width": "5", "f-length": "9 mm"},
    )  # fmt: skip
    do(student, project, "add", script=False, kind="hole")
    assert steps(project)[0]["diameter"] == 32
    page = words(student.get(address(project)))
    assert "5.0 mm by 9.0 mm, is cut away, 3 times around a middle" in page
    assert "Kept, not your pattern yet" in page
    assert not Pattern.objects.exists()
    answer = do(student, project, "use", script=False)
    pattern = current_pattern(project)
    assert pattern is not None
    assert answer.url == reverse("pattern", args=[pattern.pk])
    (piece,) = pattern.drawing.pieces
    assert (len(piece.outline.interiors), len(piece.drill_marks)) == (3, 1)
    page = words(student.get(reverse("pattern", args=[pattern.pk])))
    assert "Go on building" in page
    student.post(reverse("pattern_hand_in", args=[pattern.pk]))
    pattern.refresh_from_db()
    assert pattern.state == Pattern.State.HANDED_IN


def test_findings_come_back_numbered_with_every_change(student: Client, project: Project) -> None:
    build(project, DISC)
    answer = do(student, project, "add", kind="circle", role="window")
    assert 'data-check="no stop, no caution"' in words(answer)
    page = words(do(student, project, "set", item="2", **{"f-x": "9 mm", "f-diameter": "10"}))
    assert 'data-check="1 stop' in page
    assert 'href="#finding-1"' in page
    assert "Between this window and the outside" in page


def test_numbers_that_cannot_be_are_refused_and_nothing_changes(
    student: Client, project: Project
) -> None:
    build(project, DISC)
    before = steps(project)
    for typed, said in (
        ({"f-diameter": "wide"}, "Across:"),
        ({"f-diameter": "0.1"}, "Give a number from 0.5 to 600 mm"),
        ({"f-diameter": "9" * 50}, "too long"),
        ({"f-x": "--3"}, "Right of the middle"),
        ({"f-turn": "north"}, "no number"),
        ({"f-turn": "nan"}, "out of bounds"),
        ({"f-turn": "1e400"}, "out of bounds"),
        ({"f-role": "owner"}, "no such choice"),
        ({"name": "a\x00b"}, "cannot be seen"),
    ):
        answer = do(student, project, "set", item="1", **typed)
        assert answer.status_code == 422
        assert said in words(answer)
    assert steps(project) == before


@pytest.mark.parametrize(
    ("deed", "fields"),
    [
        ("", {}),
        ("paint", {}),
        ("add", {"kind": "blob"}),
        ("add", {}),
        ("set", {"item": "77"}),
        ("set", {"item": "x" * 500}),
        ("remove", {"item": ""}),
        ("copy", {"item": "9"}),
        ("earlier-step", {"item": "9"}),
        ("lawful", {"item": "1"}),
        ("example", {"example": "none"}),
        ("earlier", {"pattern": "9" * 30}),
        ("earlier", {"pattern": "1; drop"}),
        ("redo", {}),
    ],
)
def test_strange_deeds_are_answered_in_words(
    student: Client, project: Project, deed: str, fields: dict[str, str]
) -> None:
    build(project, DISC)
    before = steps(project)
    answer = do(student, project, deed, **fields)
    assert answer.status_code == 422
    assert "Not done" in words(answer)
    assert steps(project) == before


def test_the_second_of_two_windows_is_told_and_shown_the_newest_state(
    student: Client, project: Project
) -> None:
    build(project, DISC)
    old = opened(project).base
    do(student, project, "add", kind="hole")
    answer = student.post(
        address(project), {"deed": "remove", "item": "1", "base": old}, headers=SCRIPT
    )
    assert answer.status_code == 422
    page = words(answer)
    assert "changed in another window" in page
    assert "Drill mark for a ring" in page
    assert f'data-base="{opened(project).base}"' in page
    assert len(steps(project)) == 2


def test_undo_and_redo_outlive_the_tab(student: Client, project: Project) -> None:
    build(project, DISC)
    do(student, project, "add", kind="hole")
    do(signed_in(project.student), project, "undo")
    assert [step["kind"] for step in steps(project)] == ["circle"]
    do(student, project, "redo")
    assert [step["kind"] for step in steps(project)] == ["circle", "hole"]


def test_steps_are_copied_ordered_and_removed(student: Client, project: Project) -> None:
    build(project, DISC, {"kind": "star", "role": "window"})
    do(student, project, "copy", item="2")
    assert [step["id"] for step in steps(project)] == ["1", "2", "3"]
    do(student, project, "earlier-step", item="3")
    do(student, project, "later-step", item="1")
    assert [step["id"] for step in steps(project)] == ["3", "1", "2"]
    do(student, project, "remove", item="3")
    assert [step["id"] for step in steps(project)] == ["1", "2"]
    do(student, project, "clear")
    assert steps(project) == []


def test_a_hole_moved_by_hand_can_go_back_to_its_lawful_place(
    student: Client, project: Project
) -> None:
    build(project, DISC, HOLE)
    page = words(do(student, project, "set", item="2", **{"f-x": "14 mm", "f-y": "0 mm"}))
    assert "Put it at the lawful distance" in page
    assert 'data-check="1 stop' in page
    page = words(do(student, project, "lawful", item="2"))
    assert 'data-check="no stop, no caution"' in page


def test_shapes_of_an_earlier_version_can_be_taken_up_again(
    student: Client, project: Project
) -> None:
    build(project, DISC, HOLE)
    bring(project)
    page = words(student.get(address(project)))
    assert "came from a file" in page
    assert "Nothing you do here changes it" in page
    assert "Go on from its shapes" in page
    do(student, project, "earlier", pattern="1")
    assert [step["kind"] for step in steps(project)] == ["circle", "hole"]
    assert Pattern.objects.count() == 2
    page = words(student.get(reverse("project", args=[project.pk])))
    assert "It is kept and not your pattern yet" in page


def test_what_was_typed_and_refused_stays_with_why_beside_it(
    student: Client, project: Project
) -> None:
    build(project, DISC)
    typed = {"item": "1", "f-diameter": "wide", "f-x": "3 mm"}
    bench = words(do(student, project, "set", **typed))
    assert 'value="wide"' in bench
    assert 'value="3 mm"' in bench
    assert 'aria-invalid="true" aria-describedby="w-diameter"' in bench
    page = words(do(student, project, "set", script=False, **typed))  # no scripts: the whole page
    assert "<title>Error: " in page
    assert '<a href="#f-diameter">' in page
    assert 'value="wide"' in page
    assert steps(project)[0]["diameter"] == 30


def test_shapes_left_lying_are_told_and_can_be_thrown_away(
    student: Client, project: Project
) -> None:
    pattern = build(project, DISC)
    shape(project, {"kind": "heart"})
    page = words(student.get(address(project)))
    assert f"Your pattern is pattern {pattern.number}" in page
    assert f"Show the shapes of pattern {pattern.number}" in page
    do(student, project, "earlier", pattern=str(pattern.number))
    assert [step["kind"] for step in steps(project)] == ["circle"]
    do(student, project, "undo")
    assert [step["kind"] for step in steps(project)] == ["heart"]
    do(student, project, "let-go", script=False)
    now = opened(project)
    assert (now.unused, now.begun_from) == (False, pattern)


def test_using_an_empty_paper_or_an_old_page_is_answered_in_words(
    student: Client, project: Project
) -> None:
    do(student, project, "clear")
    page = words(student.post(address(project), {"deed": "use", "base": "x"}, follow=True))
    assert "Nothing is on the paper yet" in page
    shape(project, DISC)
    page = words(student.post(address(project), {"deed": "use", "base": "x"}, follow=True))
    assert "changed in another window" in page
    assert not Pattern.objects.exists()


def test_a_returned_pattern_shows_its_remark_and_goes_on(
    cast: Cast, student: Client, project: Project
) -> None:
    from studio.steps.patterns.answer import return_pattern

    pattern = build(project, DISC)
    hand_in(pattern, acting=cast.owner)
    assert "Take it back first" in words(student.get(address(project)))
    return_pattern(pattern, acting=cast.teacher, remark="Give it a window.")
    page = words(student.get(reverse("project", args=[project.pk])))
    assert "Change the shapes" in page
    page = words(student.get(address(project)))
    assert "Give it a window." in page
    assert "Disc" in page


def test_lengths_are_in_the_schools_inches(cast: Cast, student: Client, project: Project) -> None:
    cast.school.units = "in"
    cast.school.save()
    build(project, {"kind": "circle", "diameter": 25.4})
    page = words(student.get(f"{address(project)}?item=1"))
    assert 'name="f-diameter" value="1 in"' in page
    do(student, project, "set", item="1", **{"f-diameter": "1 1/2", "f-x": "-1/4"})
    assert steps(project)[0]["diameter"] == 38.1
    assert steps(project)[0]["x"] == -6.35


def test_only_the_student_builds(cast: Cast, project: Project) -> None:
    assert signed_in(cast.owner).get(address(project)).status_code == 200
    assert signed_in(cast.classmate).get(address(project)).status_code == 404
    assert signed_in(cast.teacher).get(address(project)).status_code == 403
    assert signed_in(cast.outside_student).get(address(project)).status_code == 404


def test_the_page_is_offered_where_a_pattern_is_wanted(student: Client, project: Project) -> None:
    for page in (
        reverse("project", args=[project.pk]),
        reverse("pattern_upload", args=[project.pk]),
    ):
        assert address(project) in words(student.get(page))


def test_names_and_letters_are_shown_as_text(student: Client, project: Project) -> None:
    build(
        project,
        {**DISC, "name": "<b>disc</b>"},
        {"kind": "letters", "text": '"><script>', "height": 4, "role": "line"},
    )
    page = student.get(address(project)).content.decode()
    assert "<b>disc" not in page
    assert re.search(r"<script(?! (type|src|async))", page) is None
    assert "&lt;b&gt;disc" in page


def test_weight_and_worth_follow_the_metal(cast: Cast, student: Client) -> None:
    import datetime as dt
    from decimal import Decimal

    from inventory.models import MetalPrice

    brief = make_brief(cast)
    project = make_project(cast, brief)
    (metal,) = brief.metals.all()
    MetalPrice.objects.create(
        metal=metal,
        amount=Decimal(20),
        width_mm=Decimal(100),
        height_mm=Decimal(100),
        dated=dt.date(2026, 9, 1),
        recorded_by=cast.teacher,
    )
    build(project, {"kind": "rectangle", "width": 30, "height": 20, "corner": 0})
    page = words(student.get(address(project)))
    # 600 mm2 of 0.812 mm copper C11000 at 8.89 g/cm3, 0.002 for each mm2
    assert "4.3 g" in page
    assert "1.20 USD" in page


def test_the_page_asks_the_database_as_often_for_many_steps_as_for_one(
    student: Client, project: Project
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    build(project, DISC)
    with CaptureQueriesContext(
        connection,
    ) as one:
        student.get(address(project))
    build(project, DISC, *[{"kind": "star", "role": "window", "diameter": 3}] * 30)
    with CaptureQueriesContext(connection) as many:
        student.get(address(project))
    assert len(many) == len(one)
