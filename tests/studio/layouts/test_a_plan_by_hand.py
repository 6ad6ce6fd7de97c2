"""A teacher's own layout of a class plan becomes the plan: a bad piece is moved in few actions."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.urls import reverse
from shapely.geometry import box

from classroom.models import History
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.spending import ledger
from studio.models import CutPlan, Layout, PlacingSettings, Project
from studio.steps.layouts import use
from studio.steps.layouts.judged import judged_fit
from studio.steps.layouts.use import use_layout
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.layout_words import words_of
from studio.steps.plans.rivals import try_beside
from tests.people import Cast, signed_in
from tests.studio.plans import making

from .laying import layout

pytestmark = pytest.mark.django_db
State = CutPlan.State


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    """Undivided: what is moved on metal that is parted stands in the folder parting."""
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    return making.shared_plan(cast)


def by_hand(plan: CutPlan, **moved: Any) -> Layout:
    """The plan's answer as a try of its teacher, its first piece moved so far."""
    assert plan.answer is not None
    laid = [dict(placed) for placed in plan.answer["placements"]]
    for name, by in moved.items():
        laid[0][name] += by
    return Layout.objects.create(
        plan=plan,
        number=plan.layouts.count() + 1,
        owner=plan.created_by,
        job=plan.job,
        placements=laid,
    )


def moved(plan: CutPlan) -> Layout:
    """A try whose first piece has been moved to where nothing lies."""
    try_one = by_hand(plan)
    first = try_one.asked.wanted_by_id[try_one.laid[0].piece].outline
    x0, y0, _, _ = first.bounds
    far = {"mirror": False, "turn_deg": 0.0, "x_mm": 60.0 - x0, "y_mm": 65.0 - y0}
    try_one.placements[0] |= far
    try_one.save()
    return Layout.objects.get(pk=try_one.pk)


def test_it_is_proposed_with_these_very_places_and_passes_the_same_approval(
    cast: Cast, plan: CutPlan
) -> None:
    by = moved(plan)
    made = use_layout(by, acting=cast.teacher)
    plan.refresh_from_db()
    assert (plan.state, made.state, made.engine_version) == (
        State.DROPPED,
        State.PROPOSED,
        "by hand",
    )
    assert made.laid is not None
    assert made.laid.placements == by.laid
    assert made.laid.measures.consumed_mm2 > 0
    assert made.quotes.count() == 2
    assert set(made.shares.values_list("project", "live")) == {
        (project.pk, True) for project in Project.objects.all()
    }
    dropped = History.objects.get(verb="plan-dropped")
    assert "laid out by hand" in dropped.detail["why"]
    approve_plan(made, acting=cast.teacher)
    assert StockPiece.objects.get().state == StockPiece.State.RESERVED


def test_the_judge_is_asked_before_the_plan_is_held(
    cast: Cast, plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = len(connection.savepoint_ids)  # a test is in a transaction of its own
    depths = []

    def noted(*asked: Any) -> Any:
        depths.append(len(connection.savepoint_ids))
        return judged_fit(*asked)

    monkeypatch.setattr(use, "judged_fit", noted)
    approve_plan(plan, acting=cast.teacher)
    use_layout(moved(plan), acting=cast.teacher)
    assert depths == [outside]


def test_an_approved_plan_gives_its_metal_and_money_to_the_new_one(
    cast: Cast, plan: CutPlan
) -> None:
    by = moved(plan)
    approve_plan(plan, acting=cast.teacher)
    budget = ledger.open_budget(cast.course)
    made = use_layout(by, acting=cast.teacher)
    budget.refresh_from_db()
    assert (made.state, budget.committed) == (State.PROPOSED, Decimal(0))
    assert StockPiece.objects.get().state == StockPiece.State.RACK


def over_the_edge(cast: Cast, by: Layout) -> None:
    by.placements[0]["x_mm"] += 200
    by.save()


def one_in_the_tray(cast: Cast, by: Layout) -> None:
    by.placements = by.placements[1:]
    by.save()


def stock_is_gone(cast: Cast, by: Layout) -> None:
    StockPiece.objects.update(state=StockPiece.State.GONE)


def issued(cast: Cast, by: Layout) -> None:
    assert by.plan is not None
    approve_plan(by.plan, acting=cast.teacher)
    issue_plan(by.plan, acting=cast.teacher)


def twice(cast: Cast, by: Layout) -> None:
    use_layout(Layout.objects.get(pk=by.pk), acting=cast.teacher)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (over_the_edge, "over the edge"),
        (one_in_the_tray, "still in the tray"),
        (stock_is_gone, "not free on the rack"),
        (issued, "handed out"),
        (twice, "dropped already"),
    ],
)
def test_else_nothing_is_dropped_and_it_says_why(
    cast: Cast, plan: CutPlan, spoil: Any, said: str
) -> None:
    by = moved(plan)
    spoil(cast, by)
    before = list(CutPlan.objects.order_by("pk").values_list("pk", "state"))
    with pytest.raises(Refused, match=said):
        use_layout(Layout.objects.get(pk=by.pk), acting=cast.teacher)
    assert list(CutPlan.objects.order_by("pk").values_list("pk", "state")) == before


def test_another_try_is_chosen_before_it_is_laid_anew(cast: Cast, plan: CutPlan) -> None:
    rival = try_beside(plan, acting=cast.teacher)
    making.run(rival)
    rival.refresh_from_db()
    with pytest.raises(Refused, match="Choose it first"):
        use_layout(by_hand(rival), acting=cast.teacher)


def test_a_students_layout_that_was_moved_is_told_to_be_the_teachers_now(
    cast: Cast, plan: CutPlan
) -> None:
    metal = plan.metal
    sheet = making.stock(metal, "CU-9", box(0, 0, 100, 100), cost="10.00")
    project = making.approved_project(
        making.brief(cast, metal, "Another"), cast.seat, metal, making.TAG
    )
    layout(project, [sheet], handed_in=True)
    own = making.placed(cast, project)
    assert own.shares.get().layout is not None
    made = use_layout(by_hand(own), acting=cast.teacher)
    assert made.shares.get().layout is not None
    again = use_layout(by_hand(made, x_mm=7.0, y_mm=9.0), acting=cast.teacher)
    assert again.shares.get().layout is None
    assert "by hand by a teacher" in words_of(again.shares.get().layout_told)


def test_a_bad_piece_is_moved_in_four_actions(cast: Cast, plan: CutPlan) -> None:
    """Open, move, use, approve: with plain forms, as the table sends them."""
    desk = signed_in(cast.teacher)
    opened = desk.post(reverse("plan_layout", args=[plan.pk]))
    by = Layout.objects.get()
    assert opened.headers["Location"] == reverse("layout", args=[by.pk])
    assert "Use this layout for the plan" in desk.get(opened.headers["Location"]).content.decode()
    far = moved(plan).placements[0]
    change = {"piece": far["piece"], "copy": far["copy"], "to": far}
    change["to"] = {name: far[name] for name in ("metal", "mirror", "turn_deg", "x_mm", "y_mm")}
    sent = {"changes": json.dumps([change]), "seen": by.version, "key": "one"}
    assert desk.post(reverse("layout_change", args=[by.pk]), sent).status_code in (200, 302)
    used = desk.post(reverse("layout_use", args=[by.pk]))
    made = CutPlan.objects.latest("pk")
    assert used.headers["Location"] == reverse("plan", args=[made.pk])
    assert "laid the pieces of plan" in desk.get(used.headers["Location"]).content.decode()
    desk.post(reverse("plan_approve", args=[made.pk]))
    made.refresh_from_db()
    assert made.state == State.APPROVED
    assert far["piece"] in {p.piece for p in made.laid.placements if p.x_mm == far["x_mm"]}


def test_own_layouts_are_pinned_on_the_teachers_table(cast: Cast, plan: CutPlan) -> None:
    fixed = plan.job["fixed"] = [plan.answer["placements"][0]]
    plan.save()
    signed_in(cast.teacher).post(reverse("plan_layout", args=[plan.pk]))
    by = Layout.objects.get()
    assert by.pinned == [[fixed[0]["piece"], fixed[0]["copy"]]]
    assert "fixed" not in by.job
