"""The class plan takes students' layouts as they are, where they fit; else it says why not."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.core.cutting import Placement
from studio.core.laying_out.metal import cut_to
from studio.models import Brief, CutPlan, Layout, PlacingSettings, Project
from studio.steps.layouts.begin import begin_from_plan
from studio.steps.layouts.standing import what_no_longer_holds
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.layout_words import words_of
from studio.steps.plans.place import Whose, place_again, propose
from studio.steps.plans.rivals import try_beside
from tests.people import Cast, signed_in
from tests.studio.patterns.making import words
from tests.studio.plans import making

from .laying import layout

pytestmark = pytest.mark.django_db
STRIP = box(0, 0, 120, 30)


@pytest.fixture
def sheet(cast: Cast) -> StockPiece:
    making.allot(cast)
    return making.stock(making.copper(cast), "CU-1", box(0, 0, 150, 90), cost="12.00")


@pytest.fixture
def brief(cast: Cast, sheet: StockPiece) -> Brief:
    return making.brief(cast, sheet.metal)


@pytest.fixture
def own(cast: Cast, brief: Brief, sheet: StockPiece) -> Layout:
    """The owner's layout, handed in with an approved pattern."""
    project = making.approved_project(brief, cast.seat, sheet.metal)
    return layout(project, [sheet], at=(60.0, 30.0), handed_in=True)


def classmates(cast: Cast, brief: Brief, sheet: StockPiece) -> Project:
    return making.approved_project(brief, cast.classmate_seat, sheet.metal, making.FISH)


def lies(plan: CutPlan, project: Project) -> set[Placement]:
    assert plan.laid is not None
    pattern = project.patterns.get()
    return {p for p in plan.laid.placements if p.piece.startswith(f"{pattern.pk}/")}


def told_of(plan: CutPlan, project: Project) -> str:
    return words_of(plan.shares.get(project=project).layout_told)


def test_a_layout_lies_in_the_plan_as_it_was_handed_in(
    cast: Cast, own: Layout, brief: Brief, sheet: StockPiece
) -> None:
    assert own.project is not None
    other = classmates(cast, brief, sheet)
    plan = making.placed(cast, own.project, other)
    assert plan.is_whole
    assert lies(plan, own.project) == set(own.laid)
    assert plan.shares.get(project=own.project).layout == own
    assert plan.shares.get(project=other).layout is None
    assert plan.quotes.count() == 2


def test_a_plan_of_own_layouts_alone_needs_nothing_else_of_the_rack(
    cast: Cast, own: Layout
) -> None:
    assert own.project is not None
    plan = making.placed(cast, own.project)
    assert plan.laid is not None
    assert (plan.is_whole, set(plan.laid.placements)) == (True, set(own.laid))
    assert [metal["id"] for metal in plan.job["metal"]] == ["CU-1"]


def test_where_two_meet_the_one_that_was_handed_in_first_lies(
    cast: Cast, own: Layout, brief: Brief, sheet: StockPiece
) -> None:
    assert own.project is not None
    other = classmates(cast, brief, sheet)
    later = layout(other, [sheet], at=(70.0, 40.0), handed_in=True)
    plan = making.placed(cast, own.project, other)
    assert lies(plan, own.project) == set(own.laid)
    assert lies(plan, other) != set(later.laid)
    assert "handed in earlier" in told_of(plan, other)
    assert str(own.project.student) not in told_of(plan, other)


def test_on_a_rectangle_it_lies_at_the_same_place_of_the_whole(
    cast: Cast, own: Layout, sheet: StockPiece
) -> None:
    assert own.project is not None
    part = (50.0, 20.0, 150.0, 90.0)
    own.job["metal"][0] = cut_to(own.job["metal"][0], part)
    own.figures = {"rectangles": {"CU-1": part}}
    own.save()
    plan = making.placed(cast, own.project)
    assert lies(plan, own.project) == set(own.laid)
    drop_plan(plan, acting=cast.teacher)
    sheet.outline = box(0, 0, 145, 90).wkt
    sheet.save()
    again = propose([own.project], acting=cast.teacher)
    assert "CU-1 has been corrected" in told_of(again, own.project)


def corrected(own: Layout, sheet: StockPiece) -> None:
    sheet.outline = box(0, 0, 150, 88).wkt
    sheet.save()


def roughened(own: Layout, sheet: StockPiece) -> None:
    sheet.clean_edges = False
    sheet.save()


def reserved(own: Layout, sheet: StockPiece) -> None:
    making.stock(sheet.metal, "CU-2", cost="30.00")
    StockPiece.objects.filter(pk=sheet.pk).update(state=StockPiece.State.RESERVED)


def another_version(own: Layout, sheet: StockPiece) -> None:
    earlier = own.pattern
    assert earlier is not None
    earlier.pk, earlier.number, earlier.state = None, 0, "aside"
    earlier.save()
    own.pattern = earlier
    own.save()


def not_whole(own: Layout, sheet: StockPiece) -> None:
    own.placements = []
    own.save()


def near_the_edge(own: Layout, sheet: StockPiece) -> None:
    own.placements[0]["y_mm"] = 0.4
    own.save()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (corrected, "record of CU-1 has been corrected"),
        (roughened, "record of CU-1 has been corrected"),
        (reserved, "CU-1, which is not free on the rack"),
        (another_version, "another version of the pattern"),
        (not_whole, "Not every piece had its place"),
        (near_the_edge, "does not keep this plan’s gap and edges"),
    ],
)
def test_else_the_plan_says_why_not_and_the_server_lays(
    cast: Cast, own: Layout, sheet: StockPiece, change: object, said: str
) -> None:
    assert own.project is not None
    assert callable(change)
    change(own, sheet)
    plan = making.placed(cast, own.project)
    assert plan.is_whole
    assert plan.shares.get().layout is None
    assert said in told_of(plan, own.project)


def test_the_plans_own_gap_counts_not_that_of_the_day(
    cast: Cast, brief: Brief, sheet: StockPiece
) -> None:
    project = making.approved_project(brief, cast.seat, sheet.metal, making.TAG, making.TAG)
    layout(project, [sheet], handed_in=True)
    assert making.placed(cast, project).shares.get().layout is not None
    plan = CutPlan.objects.get()
    PlacingSettings.objects.create(school=cast.school, hand="first", first_gap_mm=Decimal("2.5"))
    again = place_again(plan, acting=cast.teacher)
    assert "gap and edges" in words_of(again.shares.get().layout_told)


def test_where_the_server_lays_no_layout_is_asked_for(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    Brief.objects.update(laid_by=Brief.LaidBy.SERVER)
    share = propose([own.project], acting=cast.teacher).shares.get()
    assert (share.layout, share.layout_told) == (None, "")


def test_a_layout_that_was_not_handed_in_is_not_taken(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    Layout.objects.update(handed_in_at=None)
    assert propose([own.project], acting=cast.teacher).shares.get().layout is None


def test_the_server_can_be_asked_to_lay_everything(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    plan = propose([own.project], acting=cast.teacher, whose=Whose(server_lays=True))
    assert plan.shares.get().layout is None
    assert "asked to lay everything" in told_of(plan, own.project)


def test_a_layout_that_stands_is_not_set_aside_by_accident(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    Brief.objects.update(laid_by=Brief.LaidBy.STANDS)
    with pytest.raises(Refused, match="stands"):
        propose([own.project], acting=cast.teacher, whose=Whose(server_lays=True))
    whose = Whose(server_lays=True, even_standing=True)
    assert propose([own.project], acting=cast.teacher, whose=whose).shares.get().layout is None


def test_another_try_shows_what_the_server_would_have_done(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    Brief.objects.update(laid_by=Brief.LaidBy.STANDS)
    plan = making.placed(cast, own.project)
    rival = try_beside(plan, acting=cast.teacher, server_lays=True)
    making.run(rival)
    rival.refresh_from_db()
    assert lies(rival, own.project) != lies(plan, own.project) == set(own.laid)


def test_the_plans_page_says_whose_layout_it_took_and_why_it_did_not(
    cast: Cast, own: Layout, brief: Brief, sheet: StockPiece
) -> None:
    assert own.project is not None
    other = classmates(cast, brief, sheet)
    layout(other, [sheet], at=(70.0, 40.0), handed_in=True)
    plan = making.placed(cast, own.project, other)
    address = reverse("plan", args=[plan.pk])
    teacher = words(signed_in(cast.teacher).get(address))
    assert "own layout" in teacher
    assert "handed in earlier" in teacher
    assert "Let the server lay everything in the other one" in teacher
    assert "Your own layout is in this plan" in words(signed_in(cast.owner).get(address))
    mate = words(signed_in(cast.classmate).get(address, {"lang": "es"}))
    assert "se entregó antes" in mate
    assert "Wren T" not in mate


def test_forms_ask_whether_the_server_lays_everything(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    Brief.objects.update(laid_by=Brief.LaidBy.STANDS)
    desk = signed_in(cast.teacher)
    address = reverse("plan_new", args=[cast.course.pk])
    assert "even layouts that stand by their brief" in words(desk.get(address))
    asked = {"projects": [own.project_id], "server_lays": "on"}
    assert "By its brief the layout" in words(desk.post(address, asked))
    desk.post(address, asked | {"even_standing": "on"})
    assert told_of(CutPlan.objects.get(), own.project).startswith("For this plan the server")


def test_metal_that_is_reserved_for_it_is_not_told_to_be_gone(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    plan = making.placed(cast, own.project)
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    assert what_no_longer_holds(own) == ["CU-1 is not free on the rack any more."]
    StockPiece.objects.update(state=StockPiece.State.RACK)
    approve_plan(plan, acting=cast.teacher)
    assert what_no_longer_holds(own) == []
    issue_plan(plan, acting=cast.teacher)
    assert what_no_longer_holds(own) == []


def test_of_a_plan_that_is_issued_nothing_is_offered_anew(cast: Cast, own: Layout) -> None:
    assert own.project is not None
    plan = making.placed(cast, own.project)
    by_hand = begin_from_plan(plan, acting=cast.teacher)
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    page = words(signed_in(cast.teacher).get(reverse("layout", args=[by_hand.pk])))
    assert "not free on the rack" not in page
    assert "Take today" not in page
