"""The server goes on from a layout of metal that is parted, and makes the cuts anew."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.core.verifying import faults
from studio.models import Layout, TrialLayout
from studio.running.trials import doing
from studio.steps.layouts.server_tries import ask_server
from tests.people import Cast, signed_in

from .making import parted_layout

pytestmark = pytest.mark.django_db

Wish = TrialLayout.Wish


@pytest.mark.parametrize("wish", [Wish.WHOLE, Wish.REST])
def test_what_the_server_lays_is_parted_without_fault(
    cast: Cast, one_round: None, wish: str
) -> None:
    one = parted_layout(cast)
    if wish == Wish.REST:
        Layout.objects.filter(pk=one.pk).update(placements=one.placements[:1], version=1)
        one = Layout.objects.select_related("plan__course").get(pk=one.pk)
    trial = ask_server(one, wish, acting=cast.teacher)
    assert doing.run(trial.pk, "here/1"), TrialLayout.objects.get(pk=trial.pk).error
    trial.refresh_from_db()
    made = trial.made
    assert made is not None
    assert made.cuts
    assert len(made.laid) == 2
    assert faults(made.asked, made.laid, made.parted) == ()
    page = signed_in(cast.teacher).get(reverse("layout_compare", args=[one.pk]), {"wish": wish})
    assert page.status_code == 200
    assert page.context["made"] == made


def test_the_nearest_leaves_the_cuts(cast: Cast, one_round: None) -> None:
    one = parted_layout(cast)
    placements = [dict(p) for p in one.placements]
    placements[0]["y_mm"] -= 4.6  # 0.4 mm from the edge, where 1 mm is the least
    Layout.objects.filter(pk=one.pk).update(placements=placements, version=1)
    one = Layout.objects.select_related("plan__course").get(pk=one.pk)
    assert faults(one.asked, one.laid, one.parted) != ()
    trial = ask_server(one, Wish.NEAREST, acting=cast.teacher)
    assert doing.run(trial.pk, "here/1"), TrialLayout.objects.get(pk=trial.pk).error
    trial.refresh_from_db()
    assert trial.made is not None
    assert faults(one.asked, trial.made.laid, trial.made.parted) == ()
