"""The panel "Your first cut plan" on a pattern's and a project's page."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import StockPiece
from studio.models import Brief, Pattern, TrialLayout
from studio.running.trials import doing
from tests.people import Cast, signed_in, visit
from tests.studio.patterns.making import words

HTMX: Any = {"HTTP_HX_REQUEST": "true"}


def panel(browser: Client, pattern: Pattern, **query: str) -> str:
    return words(browser.get(reverse("trial_panel", args=[pattern.pk]), query, **HTMX))


def test_it_asks_again_until_the_layout_is_there_and_then_shows_it(
    pattern: Pattern, own_desk: Client
) -> None:
    page = words(own_desk.get(reverse("pattern", args=[pattern.pk])))
    assert "Your first cut plan" in page
    assert "takes about a second" in page
    assert 'hx-trigger="load delay:300ms"' in page
    assert doing.run(TrialLayout.objects.get().pk, "here/1")  # the look has asked for it
    found = panel(own_desk, pattern)
    for told in (
        "CU-0.81-001",
        "This reserves nothing",
        "within the allowance",
        "Strip left whole",
    ):
        assert told in found
    assert "load delay:300ms" not in found
    for name, pk in (("pattern", pattern.pk), ("project", pattern.project_id)):
        assert "Strip left whole" in words(own_desk.get(reverse(name, args=[pk])))


def test_it_speaks_its_readers_language(cast: Cast, pattern: Pattern, own_desk: Client) -> None:
    doing.run_first(pattern.pk, "here/1")
    cast.owner.language = "es"
    cast.owner.save()
    page = words(own_desk.get(reverse("pattern", args=[pattern.pk])))
    assert 'lang="es"' in page
    assert "Tu primer plan de corte" in page
    assert "Strip left whole" not in page


def test_a_rack_without_metal_and_a_failed_search_are_told(
    pattern: Pattern, own_desk: Client
) -> None:
    state = StockPiece.objects.get(code="CU-0.81-001").state
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    assert "no metal for it just now" in panel(own_desk, pattern)
    StockPiece.objects.update(state=state)
    panel(own_desk, pattern)
    TrialLayout.objects.update(state="failed", error="It was begun twice.")
    assert "It was begun twice." in panel(own_desk, pattern)
    own_desk.post(reverse("trial_panel", args=[pattern.pk]))
    assert TrialLayout.objects.get().state == TrialLayout.State.QUEUED


@pytest.mark.parametrize(
    ("who", "sees"), [("teacher", True), ("classmate", False), ("outsider", False)]
)
def test_who_sees_it(cast: Cast, pattern: Pattern, who: str, sees: bool) -> None:
    answer = signed_in(getattr(cast, who)).get(reverse("trial_panel", args=[pattern.pk]), **HTMX)
    assert answer.status_code == (200 if sees else 404)


def test_where_the_server_lays_out_nobody_is_invited_to(pattern: Pattern, own_desk: Client) -> None:
    assert "Lay it out yourself" in panel(own_desk, pattern)
    Brief.objects.update(laid_by=Brief.LaidBy.SERVER)
    assert "Lay it out yourself" not in panel(own_desk, pattern)


def test_once_the_pattern_is_approved_its_student_is_not_invited_to(
    pattern: Pattern, own_desk: Client
) -> None:
    type(pattern.project).objects.update(stage="approved")
    page = panel(own_desk, pattern)
    assert "first cut plan" in page
    assert "Lay it out yourself" not in page


def test_once_a_plan_holds_it_there_is_no_trial(cast: Cast, pattern: Pattern) -> None:
    type(pattern.project).objects.update(stage="planned")
    assert "first cut plan" not in words(visit(cast.teacher, reverse("pattern", args=[pattern.pk])))
