"""`audit_stock` proves the books, and names each thing that does not add up."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from shapely.geometry import box
from time_machine import Traveller

from inventory.auditing import Moved, replay
from inventory.models import Budget, StockPiece
from studio.models import CutPlan
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.people import Cast
from tests.studio.bench.making import World, make_it


def _said() -> tuple[int, str]:
    out = StringIO()
    try:
        call_command("audit_stock", stdout=out, stderr=StringIO())
    except SystemExit as end:
        return int(str(end.code)), out.getvalue()
    return 0, out.getvalue()


@pytest.fixture
def closed(world: World, clock: Traveller, cast: Cast) -> CutPlan:
    project = world.project(cast.seat)
    plan = world.issued(project)
    make_it(project, clock, cast)
    close_plan(
        plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal("2.40")
    )
    plan.refresh_from_db()
    return plan


def test_books_in_order_end_with_0(closed: CutPlan) -> None:
    assert _said() == (0, "All balances hold: 3 stock pieces, 1 budgets, 1 cut plans.\n")


def _sql(text: str, *values: object) -> None:
    """Past all guards, as a broken disk or a careless hand would."""
    with connection.cursor() as cursor:
        cursor.execute(text, values)


def _budget(plan: CutPlan) -> None:
    Budget.objects.update(charged=Decimal("400.00"))


def _state(plan: CutPlan) -> None:
    StockPiece.objects.filter(state="gone").update(state="rack")


def _area(plan: CutPlan) -> None:
    StockPiece.objects.filter(parent__gt=0).update(area_mm2=Decimal(100))


def _cost(plan: CutPlan) -> None:
    _sql("UPDATE inventory_stockmovement SET cost = cost + 1 WHERE kind = 'cut'")


def _scrap(plan: CutPlan) -> None:
    _sql("UPDATE inventory_scrapentry SET mass_g = 9")


def _below(plan: CutPlan) -> None:
    _sql("UPDATE inventory_scrapentry SET mass_g = -9")


def _charge(plan: CutPlan) -> None:
    _sql("UPDATE inventory_budgetentry SET amount = amount + 1 WHERE kind = 'charge'")


def _quote(plan: CutPlan) -> None:
    _sql("UPDATE studio_quoteline SET amount = amount + 1 WHERE position = 1")


def _kept(plan: CutPlan) -> None:
    plan.reserved.update(live=True)


def _return(plan: CutPlan) -> None:
    back = plan.metal_return
    back.balance["stock"][0]["area_mm2"]["pieces"] += 50
    back.save()


def _kerf(plan: CutPlan) -> None:
    """Saw cuts as a union tells them that has lost a piece; all else adds up."""
    back = plan.metal_return
    area = back.balance["stock"][0]["area_mm2"]
    area["kerf"] -= 5
    area["scrap"] += 5
    back.save()


def _offcut(plan: CutPlan) -> None:
    """An offcut of the plan reaches over its pieces."""
    assert plan.answer is not None
    plan.answer["offcuts"][0]["outline"] = plan.asked.metal[0].outline.wkt
    plan.save()


def _line(plan: CutPlan) -> None:
    _sql("UPDATE inventory_purchaseline SET total = total + 1")


def _series(plan: CutPlan) -> None:
    _sql("UPDATE inventory_labelseries SET last = 1")


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (_budget, "metal budget of Metals 1, B: charged is 400.00, its entries say"),
        (_state, "it is “rack”, its movements say “gone”"),
        (_area, "its area counts 100.00 mm², its movements say"),
        (_cost, "was used and its offcuts took back"),
        (_scrap, "2.40 g of scrap was weighed, the box's entries say 9.00 g"),
        (_below, "scrap box of copper: after entry"),
        (_charge, "is charged for it, its quotes say"),
        (_quote, "its lines say"),
        (_kept, "it is “closed”, yet CU-0.81-001 is still kept for it"),
        (_return, "pieces, offcuts, kerf and scrap are"),
        (_kerf, "around its pieces they are"),
        (_offcut, "pieces and offcuts lie over each other"),
        (_line, "2 sheets for 49.00, received 2 that cost 48.00"),
        (_series, "the series has only given 1 numbers"),
    ],
)
def test_each_damage_is_named_and_ends_with_1(
    closed: CutPlan, damage: Callable[[CutPlan], Any], words: str
) -> None:
    damage(closed)
    code, said = _said()
    assert code == 1
    assert words in said


def test_movements_that_cannot_follow_each_other_are_named() -> None:
    nothing = Decimal(0)
    now, faults = replay(
        [Moved("receive", Decimal(9), nothing), Moved("cut", Decimal(-9), nothing)]
    )
    assert now.state == "gone"
    assert faults == ["its movement “cut” cannot follow the state “rack”"]


def test_a_larger_school_is_audited_in_as_many_queries(
    world: World, closed: CutPlan, cast: Cast
) -> None:
    with CaptureQueriesContext(connection) as few:
        _said()
    world.plan([world.project(cast.classmate_seat)], sheets=world.sheets[1:])
    with CaptureQueriesContext(connection) as more:
        _said()
    assert len(more) == len(few)


def test_books_hold_where_one_cut_freed_two_students_pieces(
    world: World, clock: Traveller, cast: Cast
) -> None:
    """Two tags of 40 by 20 mm, 1 mm apart in the middle of the sheet: 20 mm are sawn once."""
    tag = box(0, 0, 40, 20)
    both = world.project(cast.seat, tag), world.project(cast.classmate_seat, tag)
    plan = world.issued(*both, places=[(10.0, 10.0), (51.0, 10.0)])
    for project in both:
        make_it(project, clock, cast)
    back = close_plan(
        plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal("2.40")
    )
    (row,) = back.balance["stock"]
    kerf = plan.asked.kerf_mm
    round_both = 2 * (120 * kerf + math.pi * kerf**2)
    assert row["area_mm2"]["kerf"] == pytest.approx(round_both - 20 * kerf, abs=0.05)
    assert plan.laid is not None
    assert plan.laid.measures.saw_line_mm == pytest.approx(220)
    assert _said()[0] == 0
