"""Figures that were kept by an earlier rule are told anew, and never stand beside today's."""

from __future__ import annotations

from typing import Any

import pytest

from studio.core.cutting import plan_to_json
from studio.core.placing import place
from studio.models import Layout, PlanProject, TrialLayout
from studio.steps.layouts.change import put
from studio.steps.layouts.outcome import beside_of
from studio.telling.review.own_layouts import told_alike
from studio.views.layouts.figures import figures_of
from studio.views.layouts.state import Looked, look
from tests.people import Cast

from .making import begun, fresh, lay

pytestmark = pytest.mark.django_db


def of_before(figures: dict[str, Any]) -> dict[str, Any]:
    """As the house wrote them before they had a rule: dearer, for round corners."""
    older = {name: value for name, value in figures.items() if name not in ("rule", "holes")}
    return older | {"price": "99.00", "consumed_mm2": 9999.0}


def changes(now: Looked, cast: Cast) -> set[str]:
    rows = figures_of(now.layout, now.figures, now.before, cast.school)
    return {row["change"] for row in rows}


def moved(cast: Cast) -> Layout:
    one = begun(cast)
    put(one, [lay(one, 0, 0, 0), lay(one, 1, 60, 0)], acting=cast.owner)
    look(fresh(one, cast.owner))
    put(fresh(one, cast.owner), [lay(one, 1, 60, 30)], acting=cast.owner)
    return fresh(one, cast.owner)


def test_the_last_move_is_not_blamed_for_what_the_rule_changed(cast: Cast) -> None:
    one = moved(cast)
    Layout.objects.update(figures=of_before(one.figures))
    now = look(fresh(one, cast.owner))
    assert now.before is None
    assert changes(now, cast) == {""}
    again = fresh(one, cast.owner)
    assert again.figures["price"] == now.figures["price"] != "99.00"
    assert look(again).before is None
    put(fresh(one, cast.owner), [lay(one, 1, 60, 0)], acting=cast.owner)
    assert changes(look(fresh(one, cast.owner)), cast) != {""}


def test_opened_again_it_is_told_by_the_rule_of_today(cast: Cast) -> None:
    one = moved(cast)
    now = look(one)
    told = fresh(one, cast.owner).figures
    Layout.objects.update(figures=of_before(told) | {"before": of_before(told["before"])})
    opened = look(fresh(one, cast.owner))
    assert (opened.figures["price"], opened.before) == (now.figures["price"], None)
    assert fresh(one, cast.owner).figures["price"] == now.figures["price"]


def test_what_was_handed_in_keeps_the_figures_of_that_day(cast: Cast) -> None:
    one = moved(cast)
    kept = {"consumed_mm2": 1234.5, "metal_price": "1.23", "version": one.version}
    Layout.objects.update(figures=kept, handed_in_at=one.created_at)
    assert look(fresh(one, cast.owner)).figures["consumed_mm2"] != 1234.5
    assert Layout.objects.get().figures == kept


def test_the_servers_is_told_anew_where_it_is_still_there(cast: Cast) -> None:
    one = moved(cast)
    one.beside = {"consumed_mm2": 9999.0, "metal_price": "9.99"}
    assert beside_of(one, cast.school) == {}
    answer = plan_to_json(place(one.asked, rounds=1, seed=1))
    TrialLayout.objects.create(
        pattern=one.pattern, key="a", state="done", job=one.job, answer=answer
    )
    anew = beside_of(one, cast.school)
    assert 1400.0 < anew["consumed_mm2"] < 2000.0
    one.beside = anew | {"metal_price": "0.01"}
    assert beside_of(one, cast.school)["metal_price"] == "0.01"


def test_the_review_adds_up_nothing_that_was_told_by_two_rules() -> None:
    own = {"consumed_mm2": 1.0, "metal_price": "1.00"}
    alike = PlanProject(layout=Layout(figures=own, beside=own))
    apart = PlanProject(layout=Layout(figures=own | {"rule": 2}, beside=own))
    assert (told_alike(alike), told_alike(apart)) == (True, False)
