"""Students' own layouts in a plan whose metal is parted: only where a cut runs between them."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon, box

from inventory.models import StockPiece
from studio.core.verifying import faults
from studio.models import CutPlan, Layout, PlacingSettings
from studio.steps.plans import layout_words as words
from studio.steps.plans.choose_way import choose_way
from studio.steps.plans.place import propose
from tests.people import Cast
from tests.studio.layouts.laying import layout

from .. import making as plans
from .making import shear, work_out

Way = CutPlan.Way
HOOK = Polygon([(0, 0), (50, 0), (50, 30), (40, 30), (40, 10), (10, 10), (10, 30), (0, 30)])
BAR = box(0, 0, 10, 30)
IN_THE_HOOK = (40.0, 34.0)
"""Between the hook's arms, with 10 mm to either: no straight line keeps the two apart."""


@pytest.fixture
def sheet(cast: Cast) -> StockPiece:
    shear(cast)
    plans.allot(cast)
    return plans.stock(plans.copper(cast), "CU-1", box(0, 0, 150, 90), cost="12.00")


def two_layouts(
    cast: Cast, sheet: StockPiece, bar_at: tuple[float, float]
) -> tuple[Layout, Layout]:
    """A hook at (20, 20), handed in first, and a bar."""
    brief = plans.brief(cast, sheet.metal)
    hook = plans.approved_project(brief, cast.seat, sheet.metal, HOOK)
    bar = plans.approved_project(brief, cast.classmate_seat, sheet.metal, BAR)
    return (
        layout(hook, [sheet], at=(20.0, 20.0), handed_in=True),
        layout(bar, [sheet], at=bar_at, handed_in=True),
    )


def asked(cast: Cast, layouts: tuple[Layout, Layout]) -> CutPlan:
    projects = [one.project for one in layouts if one.project is not None]
    return propose(projects, acting=cast.teacher, seconds=1.0)


def test_both_are_taken_where_a_cut_runs_between_them(cast: Cast, sheet: StockPiece) -> None:
    layouts = two_layouts(cast, sheet, (75.0, 20.0))
    plan = asked(cast, layouts)
    assert plan.way == Way.PARTED
    assert set(plan.shares.values_list("layout", flat=True)) == {one.pk for one in layouts}
    assert plans.run(plan, rounds=1)
    plan.refresh_from_db()
    assert plan.laid is not None
    assert set(plan.laid.placements) == {p for one in layouts for p in one.laid}
    assert faults(plan.asked, plan.laid.placements, plan.laid.cuts) == ()
    assert len(plan.laid.blanks) == 2


def test_a_layout_in_anothers_hook_is_left_with_a_word(cast: Cast, sheet: StockPiece) -> None:
    hook, bar = two_layouts(cast, sheet, IN_THE_HOOK)
    plan = asked(cast, (hook, bar))
    first, second = plan.shares.order_by("pk")
    assert (first.layout, first.layout_told) == (hook, "")
    assert (second.layout, second.layout_told) == (None, words.told(words.NO_CUT, "CU-1"))
    assert "no straight cut runs clear" in words.words_of(second.layout_told)


def test_two_that_a_cut_would_graze_are_not_both_taken(cast: Cast, sheet: StockPiece) -> None:
    """The hook ends at x = 70. A shear's cut keeps 1 mm from either piece (common practice, no
    source), so 71.9 is too near and 72.0 is not; the plan's own gap of 1 mm is kept by both."""
    near = asked(cast, two_layouts(cast, sheet, (71.9, 20.0)))
    assert list(near.shares.order_by("pk").values_list("layout", flat=True))[1] is None


def test_two_just_far_enough_are_both_taken(cast: Cast, sheet: StockPiece) -> None:
    plan = asked(cast, two_layouts(cast, sheet, (72.0, 20.0)))
    assert None not in plan.shares.values_list("layout", flat=True)


def test_metal_that_is_passed_on_takes_both(cast: Cast, sheet: StockPiece) -> None:
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    plan = asked(cast, two_layouts(cast, sheet, IN_THE_HOOK))
    assert plan.way == Way.PASSED
    assert None not in plan.shares.values_list("layout", flat=True)


def test_the_other_way_takes_the_layout_that_no_cut_let_in(cast: Cast, sheet: StockPiece) -> None:
    hook, bar = two_layouts(cast, sheet, IN_THE_HOOK)
    parted = asked(cast, (hook, bar))
    assert plans.run(parted, rounds=1)
    parted.refresh_from_db()
    assert work_out(parted, Way.PASSED)
    passed = choose_way(parted, Way.PASSED, acting=cast.teacher)
    assert {share.layout for share in passed.shares.all()} == {hook, bar}
    assert passed.laid is not None
    assert set(bar.laid) <= set(passed.laid.placements)
    back = choose_way(passed, Way.PARTED, acting=cast.teacher)
    told = dict(back.shares.values_list("project", "layout_told"))
    assert told == {hook.project_id: "", bar.project_id: words.told(words.NO_CUT, "CU-1")}
