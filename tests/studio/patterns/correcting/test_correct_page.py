"""The correcting page and its addresses, sent by the script and by plain forms."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.urls import reverse

from studio.core.reading.proving.rendering import file_of, scanned
from studio.core.reading.proving.truth import random_drawing
from studio.models import Pattern
from studio.steps.patterns.correct import version_of
from tests.people import Cast, signed_in
from tests.studio.patterns.making import OPEN, RINGED, bring, handed_in, make_project, words


def sent(person: Any, pattern: Pattern, changes: object, **more: str) -> Any:
    """As the page's script sends it."""
    content = {"changes": json.dumps(changes), "seen": version_of(pattern), **more}
    return signed_in(person).post(
        reverse("pattern_change", args=[pattern.pk]),
        content,
        headers={"Accept": "application/json"},
    )


def pressed(person: Any, pattern: Pattern, **typed: str) -> Any:
    """As a plain form sends it."""
    typed.setdefault("seen", version_of(pattern))
    return signed_in(person).post(reverse("pattern_change", args=[pattern.pk]), typed, follow=True)


def diameter(pattern: Pattern) -> float:
    pattern.refresh_from_db()
    return pattern.drawing.pieces[0].drill_marks[0].diameter_mm


def test_the_page_offers_gaps_drills_and_points(cast: Cast) -> None:
    pattern = bring(make_project(cast), OPEN)
    page = words(signed_in(cast.owner).get(reverse("pattern_correct", args=[pattern.pk])))
    assert "Close 20.00 mm in line 1" in page
    assert "#52 (1.61 mm)" in page
    link = words(signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk])))
    assert reverse("pattern_correct", args=[pattern.pk]) in link


def test_the_script_hears_only_what_is_other_now(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    change = [{"do": "diameter", "line": "2", "diameter_mm": 2}]
    state = sent(cast.owner, pattern, change).json()["state"]
    assert [line["id"] for line in state["lines"]] == ["2"]
    assert state["count"] == 1
    assert state["labels"]["2"]["label"] == "rivet"
    assert diameter(pattern) == 2.0
    assert state["version"] == version_of(pattern)


def test_a_refusal_brings_the_drawing_as_it_stands(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    change = [{"do": "diameter", "line": "2", "diameter_mm": 2}]
    answer = sent(cast.owner, pattern, change, seen="0-past")
    assert answer.status_code == 409
    assert "changed meanwhile" in answer.json()["text"]
    assert [line["id"] for line in answer.json()["state"]["lines"]] == ["1", "2"]


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "{}", "[1]", '[{"do": "fly"}]', "[" * 5000, "[" + "1," * 90 + "1]", "NaN"],
)
def test_any_nonsense_is_answered_in_words(cast: Cast, text: str) -> None:
    pattern = bring(make_project(cast), RINGED)
    answer = signed_in(cast.owner).post(
        reverse("pattern_change", args=[pattern.pk]),
        {"changes": text, "seen": version_of(pattern)},
        headers={"Accept": "application/json"},
    )
    assert answer.status_code == 409
    assert answer.json()["text"]


FORMS: list[tuple[dict[str, str], dict[str, object]]] = [
    ({"do": "diameter", "line": "2", "drill": "1.6129"}, {"diameter_mm": 1.6129}),
    ({"do": "diameter", "line": "2", "diameter": "2,5"}, {"diameter_mm": 2.5}),
    ({"do": "name", "line": "2", "label": "window"}, {"labels": {"2": "window"}}),
    ({"do": "new-hole", "x": "12", "y": "-3", "drill": "1.0160"}, {"at": [12.0, -3.0]}),
    (
        {"do": "move-point", "line": "1", "point": "1", "x": "36", "y": "20", "reach": "3"},
        {"index": 0, "to": [36.0, 20.0], "reach_mm": 3.0},
    ),
    ({"do": "remove-point", "line": "1", "point": "3"}, {"index": 2}),
]


@pytest.mark.parametrize(("typed", "stored"), FORMS, ids=[row[0]["do"] for row in FORMS])
def test_plain_forms_do_the_same(
    cast: Cast, typed: dict[str, str], stored: dict[str, object]
) -> None:
    pattern = bring(make_project(cast), RINGED)
    assert "Checked again" in words(pressed(cast.owner, pattern, **typed))
    pattern.refresh_from_db()
    (change,) = pattern.changes
    assert change["do"] == typed["do"]
    assert {key: change[key] for key in stored} == stored


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"do": "diameter", "line": "2"}, "Choose a drill"),
        ({"do": "diameter", "line": "2", "diameter": "wide"}, "wide"),
        ({"do": "move-point", "line": "1", "point": "0", "x": "1", "y": "1"}, "number"),
        ({"do": "join", "gap": "1|first"}, "not there any more"),
        ({"do": "fly"}, "buttons"),
    ],
)
def test_what_is_typed_wrongly_is_said_in_words(
    cast: Cast, typed: dict[str, str], why: str
) -> None:
    pattern = bring(make_project(cast), RINGED)
    answer = pressed(cast.owner, pattern, **typed)
    assert why in words(answer)
    pattern.refresh_from_db()
    assert pattern.changes == []


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"do": "diameter", "line": "2", "diameter": "wide"}, "id-diameter"),
        ({"do": "move-point", "line": "1", "point": "999", "x": "7.25", "y": "1"}, "id-point"),
        ({"do": "new-hole", "drill": "1.0160", "x": "here", "y": "1"}, "id-hole-x"),
    ],
)
def test_a_refused_form_keeps_what_was_typed_and_leads_back_to_it(
    cast: Cast, typed: dict[str, str], field: str
) -> None:
    pattern = bring(make_project(cast), RINGED)
    page = words(pressed(cast.owner, pattern, **typed))
    assert "<title>Error: " in page
    assert f'<a href="#{field}">' in page
    for name in ("diameter", "point", "x"):
        assert name not in typed or f'value="{typed[name]}"' in page


def test_undo_by_script_offers_what_it_took_off(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    sent(cast.owner, pattern, [{"do": "diameter", "line": "2", "diameter_mm": 2}])
    pattern.refresh_from_db()
    answer = signed_in(cast.owner).post(
        reverse("pattern_undo", args=[pattern.pk]),
        {"seen": version_of(pattern)},
        headers={"Accept": "application/json"},
    )
    assert [change["do"] for change in answer.json()["undone"]] == ["diameter"]
    assert diameter(pattern) == 3.0


def test_four_people_before_the_correcting_page(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    expected = {
        "pattern_correct": (403, 200, 404, 403),
        "pattern_change": (403, 409, 404, 403),
        "pattern_undo": (403, 409, 404, 403),
        "pattern_paper": (404, 404, 404, 404),
    }
    people = (cast.teacher, cast.owner, cast.classmate, cast.outsider)
    for name, answers in expected.items():
        for person, status in zip(people, answers, strict=True):
            client = signed_in(person)
            ask = client.get if name in ("pattern_correct", "pattern_paper") else client.post
            answer = ask(reverse(name, args=[pattern.pk]))
            assert answer.status_code == status, (name, person)


def test_a_handed_in_pattern_is_shown_on_its_own_page(cast: Cast) -> None:
    pattern = handed_in(make_project(cast), RINGED)
    answer = signed_in(cast.owner).get(reverse("pattern_correct", args=[pattern.pk]), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("pattern", args=[pattern.pk])
    assert "cannot be changed now" in words(answer)


def test_a_scan_lies_under_its_lines_without_anything_else_of_the_file(cast: Cast) -> None:
    drawing = random_drawing(7)
    data = file_of(scanned(drawing, seed=7), "PNG", dpi=(300, 300))
    pattern = bring(make_project(cast), data, filename="leaf.png")
    page = words(signed_in(cast.owner).get(reverse("pattern_correct", args=[pattern.pk])))
    assert f'width="{drawing.width_mm:g}' in page
    paper = signed_in(cast.owner).get(reverse("pattern_paper", args=[pattern.pk]))
    content = paper.content
    assert content.startswith(b"\xff\xd8\xff")
    assert b"Exif" not in content
    assert paper["Content-Type"] == "image/jpeg"
    assert (
        signed_in(cast.classmate).get(reverse("pattern_paper", args=[pattern.pk])).status_code
        == 404
    )
    shown = signed_in(cast.teacher).get(reverse("pattern_paper", args=[pattern.pk]))
    assert shown.status_code == 200
