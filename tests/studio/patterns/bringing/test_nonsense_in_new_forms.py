"""Signs that no text may hold, numbers that are none: answered in words, and nothing is kept."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.models import History
from studio.models import BuilderDraft, Pattern
from studio.steps.patterns.correct import version_of
from tests.people import Cast, signed_in
from tests.studio.patterns.making import RINGED, bring, make_project

ODD = ["a\0b", "\ud800", "9" * 5_000, "NaN", "[" * 5_000]


@pytest.fixture
def pattern(cast: Cast) -> Pattern:
    return bring(make_project(cast), RINGED)


def sent_safely(text: str) -> str:
    """As a browser sends it: what is no character becomes a question mark."""
    return text.encode("utf-8", "replace").decode()


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["key", "seen", "changes", "do", "line", "label", "x", "gap"])
def test_corrections(own_desk: Client, pattern: Pattern, name: str, odd: str) -> None:
    good = {"do": "new-hole", "x": "10", "y": "10", "diameter": "1.5", "seen": version_of(pattern)}
    sent = good | {name: sent_safely(odd)}
    answer = own_desk.post(reverse("pattern_change", args=[pattern.pk]), sent)
    assert answer.status_code < 500
    pattern.refresh_from_db()
    assert len(pattern.changes) <= 1


@pytest.mark.parametrize("odd", ODD)
def test_corrections_by_script(own_desk: Client, pattern: Pattern, odd: str) -> None:
    seen = version_of(pattern)
    changes: list[dict[str, Any]] = [
        {"do": odd, "line": "1"},
        {"do": "name", "labels": {odd: "ignore"}},
        {"do": "name", "labels": {"1": odd}},
        {"do": "diameter", "line": odd, "diameter_mm": 2},
        {"do": "diameter", "line": "2", "diameter_mm": odd},
        {"do": "join", "line": "1", "end": odd, "other": "2", "other_end": "last"},
        {"do": "redraw", "line": "1", "points": odd, "closed": True},
        {"do": "redraw", "line": "1", "points": [[0, 0], [9, 0], [9, 9]], "closed": True}
        | {"why": odd},
    ]
    for change in changes:
        answer = own_desk.post(
            reverse("pattern_change", args=[pattern.pk]),
            {"changes": json.dumps([change]), "seen": seen},
            headers={"accept": "application/json"},
        )
        assert answer.status_code in (409, 422), change
    pattern.refresh_from_db()
    assert pattern.changes == []
    assert not History.objects.filter(verb="pattern-corrected").exists()


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["deed", "item", "base", "kind", "role", "example", "pattern"])
def test_building(own_desk: Client, pattern: Pattern, name: str, odd: str) -> None:
    address = reverse("pattern_build", args=[pattern.project_id])
    for deed in ("add", "set", "copy", "example", "earlier", "use"):
        good = {"deed": deed, "kind": "circle", "role": "metal", "base": "0"}
        sent = good | {name: sent_safely(odd)}
        assert own_desk.post(address, sent).status_code < 500
        assert own_desk.post(address, sent, headers={"x-building": "1"}).status_code < 500
    assert own_desk.get(address, {name: sent_safely(odd)}).status_code == 200


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["name", "f-diameter", "f-x", "f-count", "f-copies"])
def test_the_numbers_of_a_shape(own_desk: Client, pattern: Pattern, name: str, odd: str) -> None:
    address = reverse("pattern_build", args=[pattern.project_id])
    own_desk.post(address, {"deed": "add", "kind": "circle", "role": "metal", "base": "0"})
    built = BuilderDraft.objects.get()
    sent = {"deed": "set", "item": "1", "base": f"{built.pk}.1", name: sent_safely(odd)}
    assert own_desk.post(address, sent, headers={"x-building": "1"}).status_code in (200, 422)


@pytest.mark.parametrize("odd", ODD)
def test_neatening(own_desk: Client, pattern: Pattern, odd: str) -> None:
    for name in ("mend", "all", "undo"):
        answer = own_desk.post(reverse("pattern_mend", args=[pattern.pk]), {name: sent_safely(odd)})
        assert answer.status_code < 500


@pytest.mark.parametrize("odd", ODD)
def test_printers_and_rules_of_placing(cast: Cast, odd: str) -> None:
    own_desk = signed_in(cast.teacher)
    text = sent_safely(odd)
    good = {"name": "Room 12", "across_mm": "99.4", "up_mm": "100.6"}
    for name in good:
        assert own_desk.post(reverse("printers"), good | {name: text}).status_code < 500
    assert own_desk.get(reverse("printers"), {"name": text}).status_code == 200
    own_desk.cookies["printer"] = "9" * 15
    assert own_desk.get(reverse("printer_check"), {"printer": text}).status_code == 200
    assert own_desk.get(reverse("printer_check")).status_code == 200
    address = reverse("course_placing_settings", args=[cast.course.pk])
    for name in ("blade", "offcut_min_width_mm", "offcut_min_area", "saw_worth_per_cm", "kerf_0"):
        assert own_desk.post(address, {name: text}).status_code < 500
    sent = {"read": text, "once": text}
    assert own_desk.post(reverse("offcut_from_photo"), sent).status_code < 500
