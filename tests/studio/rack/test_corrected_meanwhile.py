"""A stock piece whose record was corrected is not the one that the plan was laid on."""

from __future__ import annotations

from decimal import Decimal

import pytest
from shapely.geometry import box

from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import correcting
from inventory.rack.edges import ALL_ROUGH
from studio.steps.plans.approve import approve_plan
from tests.people import Cast
from tests.studio.bench.making import World


def test_a_plan_on_a_piece_of_another_size_is_placed_again_and_keeps_nothing(
    world: World, cast: Cast
) -> None:
    plan = world.plan([world.project(cast.seat)])
    sheet = world.sheets[0]
    correcting.correct(sheet, acting=cast.teacher, reason="measured", outline=box(0, 0, 50, 40))
    with pytest.raises(Refused, match=r"CU-0\.81-001 has been corrected since"):
        approve_plan(plan, acting=cast.teacher)
    assert StockPiece.objects.get(pk=sheet.pk).state == "rack"


def test_edges_found_not_to_be_clean_count_too(world: World, cast: Cast) -> None:
    plan = world.plan([world.project(cast.seat)])
    correcting.correct(world.sheets[0], acting=cast.teacher, reason="bent", edges=ALL_ROUGH)
    with pytest.raises(Refused, match="has been corrected since"):
        approve_plan(plan, acting=cast.teacher)


def test_a_price_mended_meanwhile_is_priced_anew(world: World, cast: Cast) -> None:
    plan = world.plan([world.project(cast.seat)])
    correcting.correct(world.sheets[0], acting=cast.teacher, reason="typed", cost=Decimal("99.00"))
    with pytest.raises(Refused, match="has been corrected since"):
        approve_plan(plan, acting=cast.teacher)
    assert not plan.course.budget.entries.filter(kind="commitment").exists()


def test_a_place_written_down_anew_changes_nothing_for_the_plan(world: World, cast: Cast) -> None:
    plan = world.plan([world.project(cast.seat)])
    correcting.move_to(world.sheets[0], "drawer 3", acting=cast.teacher)
    assert approve_plan(plan, acting=cast.teacher).state == "approved"
