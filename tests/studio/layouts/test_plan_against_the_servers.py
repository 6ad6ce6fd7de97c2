"""A teacher's own layout of a class plan beside what the server makes of the same pieces."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.core.verifying import measure
from studio.models import CutPlan, Layout, PlacingSettings, TrialLayout
from studio.running.trials import doing, wishes
from studio.steps.plans.by_hand import BY_HAND
from tests.people import Cast, signed_in
from tests.studio.patterns.making import words
from tests.studio.plans import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def own(cast: Cast, desk: Client, one_round: None) -> Layout:
    """Begun by the teacher, of two students' pieces on one sheet that is passed on."""
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    plan = making.shared_plan(cast)
    desk.post(reverse("plan_layout", args=[plan.pk]))
    return Layout.objects.get(plan=plan)


def plan_of(own: Layout) -> CutPlan:
    assert own.plan is not None
    return own.plan


def compared(desk: Client, own: Layout) -> str:
    """The page, once a worker has answered."""
    sent = desk.post(reverse("layout_server", args=[own.pk]), {"wish": "whole"})
    trial = TrialLayout.objects.get(layout=own)
    if trial.is_open:
        assert doing.run(trial.pk, "here/1"), trial.error
    return words(desk.get(sent["Location"]))


def move(own: Layout, x: float, y: float) -> None:
    """The lower left corner of its first piece comes to lie there."""
    x0, y0, _, _ = own.laid[0].lay(own.asked.wanted_by_id[own.laid[0].piece].outline).bounds
    own.placements[0]["x_mm"] += x - x0
    own.placements[0]["y_mm"] += y - y0
    own.version += 1
    own.save()


def test_a_plan_that_nobody_moved_does_not_beat_the_server(desk: Client, own: Layout) -> None:
    plan = plan_of(own)
    page = compared(desk, own)
    trial = TrialLayout.objects.get(layout=own)
    made = trial.made
    assert made is not None
    assert plan.laid is not None
    assert wishes.wished(trial).job.start == plan.laid.placements  # it looks for better from there
    assert measure(made.asked, made.laid)[0].cost <= measure(own.asked, own.laid)[0].cost
    assert "beaten the server" not in page


def test_what_was_moved_into_the_middle_is_worse_and_drawn_beside(
    cast: Cast, desk: Client, own: Layout
) -> None:
    plan = plan_of(own)
    move(own, 60.0, 40.0)
    page = compared(desk, own)
    for said in (f"Cut plan {plan.pk}", "The server’s is better so far", "Begin from it by hand"):
        assert said in page
    assert page.count('<figure class="picture">') == 2
    assert "Use the server’s as mine" not in page  # a plan's try is used, not chosen
    assert page.count("d-label") > 2 * len(own.laid)  # every student's pieces have their letters
    for person in (cast.owner, cast.outsider, cast.other_teacher):
        address = reverse("layout_compare", args=[own.pk])
        assert signed_in(person).get(address).status_code == 404


def test_the_servers_is_gone_on_with_and_used(desk: Client, own: Layout) -> None:
    plan = plan_of(own)
    move(own, 60.0, 40.0)
    compared(desk, own)
    made = TrialLayout.objects.get(layout=own).made
    assert made is not None
    there = desk.post(reverse("layout_tries", args=[made.pk]), {"do": "copy"})["Location"]
    assert "Use this layout for the plan" in words(desk.get(there))
    copied = Layout.objects.latest("pk")
    assert (copied.plan, copied.laid) == (plan, made.laid)
    desk.post(reverse("layout_use", args=[own.pk]))
    by_hand = CutPlan.objects.latest("pk")
    assert (by_hand.engine_version, by_hand.pk != plan.pk) == (BY_HAND, True)
    assert wishes.as_planned(own) != ()
    own.plan = by_hand
    assert wishes.as_planned(own) == ()  # what was laid by hand is not the server's
