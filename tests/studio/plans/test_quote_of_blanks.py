"""Everybody pays for the own blank: figures by hand, and no cent lost by any way or rule."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from shapely.geometry import box

from inventory.models import Budget, Consumable
from inventory.spending import ledger
from studio.models import CutPlan, PlanProject
from studio.steps.plans.quote import (
    costs_as_priced,
    course_share,
    planned_total,
    total_of,
    words_of_rule,
)
from tests.people import Cast
from tests.studio.bench.making import World, make_world
from tests.studio.plans.parted import PIECE, shared_sheet, side_by_side

CENT = Decimal("0.01")


def without_supplies(cast: Cast) -> World:
    world = make_world(cast, sheets=1)
    Consumable.objects.all().delete()
    return world


def a_plan(world: World, *, way: str = "shear", rule: str = "shared") -> CutPlan:
    """A sheet of 120 × 80 mm for 24.00, that is 0.0025 a mm²: blanks 24 and 48 mm wide, 48 mm
    left; in the second blank an offcut of 20 × 80 mm. Pieces are 20 × 20 mm."""
    ledger.choose_policy(ledger.open_budget(world.cast.course), rule, acting=world.cast.teacher)
    projects = [
        world.project(world.cast.seat, PIECE),
        world.project(world.cast.classmate_seat, PIECE),
    ]
    job, answer = side_by_side(
        world,
        projects,
        world.sheets[0],
        way=way,
        widths=[24.0, 48.0],
        offcuts=[box(52, 0, 72, 80)],
    )
    return shared_sheet(world, projects, job, answer)


def test_a_parted_sheet_is_paid_blank_by_blank(cast: Cast) -> None:
    plan = a_plan(without_supplies(cast))
    small, large = plan.quotes.order_by("project_id")
    # Left over: 48 of 120 mm, 9.60. The blanks cost 4.80 and 9.60; of the second 4.00 come back.
    assert small.total == Decimal("4.80")
    assert large.total == Decimal("5.60")
    assert small.rates["blanks"][0]["cost"] == "4.80"
    assert small.rates["own_blank"] is True
    assert planned_total(plan) == Decimal("10.40")
    assert costs_as_priced(plan) == {plan.touched_codes[0]: Decimal("24.00")}
    assert (small.piece_area_mm2, small.waste_area_mm2) == (Decimal(400), Decimal(24 * 80 - 400))
    assert (large.piece_area_mm2, large.waste_area_mm2) == (Decimal(400), Decimal(28 * 80 - 400))
    assert words_of_rule(plan).startswith("The metal is parted first")


def test_what_a_project_leaves_of_its_blank_does_not_change_anothers_price(cast: Cast) -> None:
    world = without_supplies(cast)
    plan = a_plan(world)
    shares = list(plan.shares.select_related("pattern"))
    assert plan.laid is not None
    answer = replace(plan.laid, offcuts=())
    # Now the second blank is used up whole: 9.60 instead of 5.60.
    assert total_of(plan.course, plan.asked, answer, shares, "parted") == Decimal("4.80") + Decimal(
        "9.60"
    )


def test_kerf_of_a_sawn_sheet_is_shared_by_blank_area(cast: Cast) -> None:
    plan = a_plan(without_supplies(cast), way="saw")
    small, large = plan.quotes.order_by("project_id")
    kerf = plan.asked.kerf_mm
    # Parts end half a kerf beside the middle of each cut: 24 - k/2, 48 - k and 48 - k/2 wide.
    left = round(Decimal(24) * Decimal(f"{(48 - kerf / 2) / 120:.8f}"), 2)
    own = [Decimal(blank["cost"]) for quote in (small, large) for blank in quote.rates["blanks"]]
    assert sum(own) + left == 24
    ratio = (24 - kerf / 2) / (72 - 1.5 * kerf)
    assert abs(own[0] - (24 - left) * Decimal(f"{ratio:.8f}")) <= CENT
    # Both cuts are 80 mm long; who has the larger blank wears out more of the blades for them.
    alone = 80.0  # around a square of 20 mm that lies free
    sawn = [quote.rates["saw_line_mm"] - alone for quote in (small, large)]
    assert sum(sawn) == pytest.approx(160.0, abs=0.05)
    assert sawn[0] / sum(sawn) == pytest.approx(ratio, abs=1e-3)


def test_a_shear_wears_no_blades(cast: Cast) -> None:
    plan = a_plan(without_supplies(cast))
    assert [quote.rates["saw_line_mm"] for quote in plan.quotes.all()] == [80.0, 80.0]


@pytest.mark.parametrize(
    ("rule", "paid"),
    [
        # Pieces of 400 mm² at 0.0025; rectangles of 23 × 23 mm at the same price.
        ("school", ["1.00", "1.00"]),
        ("rectangle", ["1.32", "1.32"]),
    ],
)
def test_the_course_bears_the_rest_of_each_blank(cast: Cast, rule: str, paid: list[str]) -> None:
    plan = a_plan(without_supplies(cast), rule=rule)
    quotes = list(plan.quotes.order_by("project_id"))
    assert [str(quote.total) for quote in quotes] == paid
    own = [Decimal(quote.rates["course_share"]) for quote in quotes]
    assert own == [Decimal("4.80") - Decimal(paid[0]), Decimal("5.60") - Decimal(paid[1])]
    assert course_share(quotes) == sum(own)
    assert planned_total(plan) == Decimal("10.40")


@pytest.mark.parametrize("rule", Budget.CostPolicy.values)
@pytest.mark.parametrize("way", ["shear", "saw"])
@pytest.mark.parametrize("cost", ["0.00", "0.01", "13.37", "999.99"])
def test_no_cent_is_lost_by_any_way_or_rule(cast: Cast, rule: str, way: str, cost: str) -> None:
    world = without_supplies(cast)
    world.sheets[0].cost = Decimal(cost)
    world.sheets[0].save(update_fields=["cost"])
    plan = a_plan(world, way=way, rule=rule)
    quote = plan.quotes.order_by("project_id")[0]
    split = quote.rates["stock"][world.sheets[0].code]
    back = sum(map(Decimal, split["offcut_costs"]))
    assert planned_total(plan) + back == Decimal(cost)
    assert planned_total(plan) == Decimal(split["consumed_cost"])


def test_a_plan_that_is_not_stored_costs_what_it_will_cost(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    plan = a_plan(world, way="saw")
    unsaved = [
        PlanProject(project_id=share.project_id, pattern=share.pattern)
        for share in plan.shares.select_related("pattern")
    ]
    assert plan.laid is not None
    total = total_of(plan.course, plan.asked, plan.laid, unsaved, "sawn")
    assert total == planned_total(plan)
    assert plan.quotes.count() == 2
