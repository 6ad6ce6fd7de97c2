"""Which projects can be put on one plan, and which metal is offered for them."""

from __future__ import annotations

import pytest
from django.db import transaction
from shapely.geometry import Polygon, box

from classroom.models import Course, Seat
from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.models import CutPlan, Project
from studio.steps.plans import asking as ordering
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.place import place_again, projects_unplaced, propose, propose_together
from tests.people import Cast

from . import making


def test_plan_holds_the_projects_the_job_and_a_queued_placing(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", cost="46.45")
    a_brief = making.brief(cast, metal, kerf_mm="0.28", offcut_min_width_mm="15")
    one = making.approved_project(a_brief, cast.seat, metal, making.FISH, making.SAIL)
    two = making.approved_project(a_brief, cast.classmate_seat, metal, copies=3)
    plan = propose([one, two], acting=cast.teacher, seed=5)
    assert plan.state == CutPlan.State.PLACING
    assert plan.seed == 5
    assert {piece["group"] for piece in plan.job["pieces"]} == {
        f"project-{one.pk}",
        f"project-{two.pk}",
    }
    assert [piece["count"] for piece in plan.job["pieces"]] == [1, 1, 3]
    assert plan.job["kerf_mm"] == 0.28
    assert plan.job["offcut_min_width_mm"] == 15
    (offered,) = plan.job["metal"]
    assert offered["id"] == "CU-1"
    assert offered["price_per_mm2"] == pytest.approx(46.45 / (152.4 * 304.8), rel=1e-6)
    assert plan.shares.filter(live=True).count() == 2


def test_placing_is_queued_only_when_the_plan_is_committed(
    cast: Cast, django_capture_on_commit_callbacks: object
) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    with django_capture_on_commit_callbacks(execute=True) as called:  # type: ignore[operator]
        plan = propose([project], acting=cast.teacher, seconds=0.2)
    assert len(called) == 1
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED  # the tests' queue runs at once


def test_project_with_a_live_plan_is_refused(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    propose([project], acting=cast.teacher)
    with pytest.raises(Refused, match="has a cut plan already"), transaction.atomic():
        propose([project], acting=cast.teacher)
    assert CutPlan.objects.count() == 1


def test_project_without_an_approved_pattern_is_refused(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    Project.objects.update(stage=Project.Stage.HANDED_IN)
    with pytest.raises(Refused, match="not ready to be placed"):
        propose([project], acting=cast.teacher)


def test_projects_of_two_metals_are_refused(cast: Cast) -> None:
    thin, thick = making.copper(cast), making.copper(cast, "1.024")
    making.stock(thin, "CU-1")
    a_brief = making.brief(cast, thin)
    one = making.approved_project(a_brief, cast.seat, thin)
    two = making.approved_project(a_brief, cast.classmate_seat, thick)
    with pytest.raises(Refused, match="same metal"):
        propose([one, two], acting=cast.teacher)


def test_projects_of_two_courses_are_refused(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    other = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        term="Autumn",
        starts_on="2026-09-01",
        ends_on="2027-01-01",
    )
    seat = Seat.objects.create(course=other, student=cast.classmate)
    one = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    elsewhere = making.brief(cast, metal, "Another")
    elsewhere.course = other
    elsewhere.save()
    two = making.approved_project(elsewhere, seat, metal)
    with pytest.raises(Refused, match="of one course"):
        propose([one, two], acting=cast.teacher)


def test_empty_rack_is_refused_in_words(cast: Cast) -> None:
    metal = making.copper(cast)
    piece = making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    StockPiece.objects.filter(pk=piece.pk).update(state=StockPiece.State.RESERVED)
    with pytest.raises(Refused, match="There is no copper"):
        propose([project], acting=cast.teacher)


def test_more_pieces_than_one_plan_takes_are_refused(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal, copies=5)
    monkeypatch.setattr(ordering, "MOST_PIECES", 4)
    with pytest.raises(Refused, match="5 pieces in one plan; 4 is the most"):
        propose([project], acting=cast.teacher)


def test_offcuts_that_serve_are_offered_before_a_sheet_and_their_number_is_bounded(
    cast: Cast,
) -> None:
    metal = making.copper(cast)
    for number in range(30):
        outline = box(0, 0, 45 + number, 30)
        making.stock(metal, f"OC-{number:02}", outline, kind="offcut")
    making.stock(metal, "TINY", box(0, 0, 10, 10), kind="offcut")
    for number in range(20):
        making.stock(metal, f"SH-{number:02}")
    wanted = ordering.wanted_of(
        [making.approved_project(making.brief(cast, metal), cast.seat, metal).patterns.get()]
    )
    offered = ordering.choose_stock(metal, wanted)
    kinds = [piece.kind for piece in offered]
    assert kinds == sorted(kinds)  # offcuts first
    codes = [piece.code for piece in offered]
    assert codes[0] == "OC-00"
    assert "TINY" not in codes
    assert len([code for code in codes if code.startswith("OC")]) <= ordering.MOST_OFFCUTS
    assert 1 <= len([code for code in codes if code.startswith("SH")]) <= ordering.MOST_SHEETS


def test_sheet_that_holds_the_largest_piece_is_among_those_offered(cast: Cast) -> None:
    metal = making.copper(cast)
    for number in range(12):
        making.stock(metal, f"SMALL-{number:02}", box(0, 0, 60, 60))
    making.stock(metal, "LARGE", box(0, 0, 200, 200))
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, making.TAG, box(0, 0, 150, 90)
    )
    offered = ordering.choose_stock(metal, ordering.wanted_of([project.patterns.get()]))
    assert "LARGE" in {piece.code for piece in offered}


def test_another_try_drops_the_plan_and_uses_the_next_seed(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    first = making.placed(cast, project, seed=3)
    second = place_again(first, acting=cast.teacher)
    first.refresh_from_db()
    assert first.state == CutPlan.State.DROPPED
    assert second.seed == 4
    assert second.shares.get(live=True).project == project


def test_plan_can_be_made_without_the_projects_that_found_no_room(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 60, 60))
    a_brief = making.brief(cast, metal)
    fits = making.approved_project(a_brief, cast.seat, metal)
    too_big = making.approved_project(a_brief, cast.classmate_seat, metal, box(0, 0, 90, 90))
    plan = making.placed(cast, fits, too_big)
    assert projects_unplaced(plan) == {too_big.pk}
    without = place_again(plan, acting=cast.teacher, leave_out_unplaced=True)
    making.run(without)
    without.refresh_from_db()
    assert [share.project for share in without.shares.all()] == [fits]
    assert without.answer is not None
    assert without.answer["status"] == "complete"
    # the one left out can be placed when there is metal for it
    making.stock(metal, "CU-2")
    assert propose([too_big], acting=cast.teacher).state == CutPlan.State.PLACING


def test_refused_second_try_keeps_the_plan_there_was(cast: Cast) -> None:
    metal = making.copper(cast)
    piece = making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    plan = making.placed(cast, project)
    StockPiece.objects.filter(pk=piece.pk).update(state=StockPiece.State.GONE)
    with pytest.raises(Refused), transaction.atomic():
        place_again(plan, acting=cast.teacher)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.PROPOSED


def test_plans_that_are_not_approved_give_way_to_one_plan_for_all(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal)
    two = making.approved_project(a_brief, cast.classmate_seat, metal)
    first, second = making.placed(cast, one), making.placed(cast, two)
    together = propose_together([one, two], acting=cast.teacher)
    for plan in (first, second):
        plan.refresh_from_db()
        assert plan.state == CutPlan.State.DROPPED
    assert {share.project for share in together.shares.filter(live=True)} == {one, two}


def test_approved_plan_does_not_give_way(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    making.stock(metal, "CU-2")
    making.allot(cast)
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal)
    two = making.approved_project(a_brief, cast.classmate_seat, metal)
    first, second = making.placed(cast, one), making.placed(cast, two)
    approve_plan(first, acting=cast.teacher)
    with pytest.raises(Refused, match="not ready"), transaction.atomic():
        propose_together([one, two], acting=cast.teacher)
    second.refresh_from_db()
    assert second.state == CutPlan.State.PROPOSED


def test_an_offcut_that_serves_is_used_before_a_sheet_is_opened(cast: Cast) -> None:
    """Its uneven edge is no reason to leave it: that was sawn long ago."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", cost="31.40")
    uneven = Polygon(
        [(0, 0), (152, 0), (152, 260), (120, 268), (100, 255), (60, 290), (30, 270), (0, 280)]
    )
    cost = f"{31.40 * uneven.area / (152.4 * 304.8):.2f}"  # the same for each square millimetre
    making.stock(metal, "CU-2", uneven, cost=cost, kind=StockPiece.Kind.OFFCUT)
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, making.FISH, making.SAIL
    )
    plan = making.placed(cast, project, rounds=6)
    assert plan.answer is not None
    assert {laid["metal"] for laid in plan.answer["placements"]} == {"CU-2"}
