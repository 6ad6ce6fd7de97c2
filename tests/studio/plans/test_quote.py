"""Prices of a plan: frozen, in whole cents, and adding up to what the plan costs."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from classroom.models import HistoryIsKept
from inventory.models import Consumable, Metal, StockPiece
from studio.core.cutting import plan_from_json
from studio.core.pricing.shares import to_the_cent
from studio.models import CutPlan, Hand, PlacingSettings, Quote
from studio.steps.plans import quote as quoting
from studio.steps.plans.quote import Use, consumable_line, make_quotes, planned_total, split_cost
from tests.people import Cast

from . import making


@pytest.fixture
def undivided(cast: Cast) -> None:
    """Metal of several students is passed on whole, so that they share its waste."""
    PlacingSettings.objects.create(school=cast.school, sharing="passed")


areas = st.floats(0.01, 40_000, allow_nan=False).map(lambda area: round(area, 2))


@given(
    cost=st.decimals(0, 999, places=2),
    consumed=areas,
    offcuts=st.lists(areas, max_size=12),
)
def test_cost_of_a_stock_piece_is_split_without_losing_a_cent(
    cost: Decimal, consumed: float, offcuts: list[float]
) -> None:
    whole = Decimal(f"{consumed + sum(offcuts):.2f}")
    piece = StockPiece(code="CU-1", metal=Metal(), area_mm2=whole, cost=cost)
    split = split_cost(piece, offcuts)
    assert split.consumed_cost + sum(split.offcut_costs) == cost
    assert split.consumed_cost >= 0
    assert abs(split.consumed_mm2 - Decimal(f"{consumed:.2f}")) < Decimal("0.2")


def consumables_of(plan: CutPlan) -> Decimal:
    """Consumables of all quotes, from their lines."""
    lines = [line for quote in plan.quotes.all() for line in quote.lines.all()]
    return sum((line.amount for line in lines if line.kind not in {"metal", "waste"}), Decimal(0))


def metal_cost_of(plan: CutPlan) -> Decimal:
    """Each touched stock piece's cost less its offcuts' shares, straight from the rule."""
    answer = plan_from_json(plan.answer or {})
    total = Decimal(0)
    for piece in StockPiece.objects.filter(code__in={p.metal for p in answer.placements}):
        kept = [o.outline.area for o in answer.offcuts if o.metal == piece.code]
        total += piece.cost - sum(split_cost(piece, kept).offcut_costs)
    return total


@pytest.mark.usefixtures("undivided")
@pytest.mark.parametrize("cost", ["31.40", "0.01", "0.00", "999.99"])
def test_quotes_add_up_to_metal_and_consumables_to_the_cent(cast: Cast, cost: str) -> None:
    metal = making.copper(cast)
    making.stock(metal, "OC-1", box(0, 0, 70, 50), cost=cost, kind="offcut")
    making.stock(metal, "CU-1", cost="31.40")
    making.supplies(cast)
    a_brief = making.brief(cast, metal)
    plan = making.placed(
        cast,
        making.approved_project(a_brief, cast.seat, metal, making.FISH, making.SAIL, copies=2),
        making.approved_project(a_brief, cast.classmate_seat, metal, copies=3),
    )
    quotes = list(plan.quotes.all())
    assert len(quotes) == 2
    assert sum(quote.metal_total for quote in quotes) == metal_cost_of(plan)
    assert planned_total(plan) == metal_cost_of(plan) + consumables_of(plan)
    for quote in quotes:
        assert quote.total == sum(line.amount for line in quote.lines.all())
        assert quote.total == to_the_cent(quote.total)


@pytest.mark.usefixtures("undivided")
def test_areas_of_the_quotes_add_up_to_what_the_plan_consumes(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    plan = making.placed(
        cast,
        making.approved_project(a_brief, cast.seat, metal, making.FISH),
        making.approved_project(a_brief, cast.classmate_seat, metal, making.SAIL),
    )
    answer = plan_from_json(plan.answer or {})
    pieces = sum(quote.piece_area_mm2 for quote in plan.quotes.all())
    waste = sum(quote.waste_area_mm2 for quote in plan.quotes.all())
    assert float(pieces) == pytest.approx(answer.measures.piece_area_mm2, abs=0.05)
    assert float(pieces + waste) == pytest.approx(answer.measures.consumed_mm2, abs=0.1)


@pytest.mark.usefixtures("undivided")
def test_waste_is_shared_over_the_plan_whichever_stock_piece_a_project_lies_on(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "OC-1", box(0, 0, 41, 21), kind="offcut", cost="2.00")
    making.stock(metal, "OC-2", box(0, 0, 60, 45), kind="offcut", cost="9.00")
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal, box(0, 0, 40, 20))
    two = making.approved_project(a_brief, cast.classmate_seat, metal, box(0, 0, 40, 40))
    plan = making.placed(cast, one, two)
    small, large = plan.quotes.get(project=one), plan.quotes.get(project=two)
    assert len(small.rates["stock"]) == 2
    assert float(large.waste_area_mm2) == pytest.approx(2 * float(small.waste_area_mm2), abs=0.05)
    money = {quote.project_id: quote.lines.get(kind="waste").amount for quote in (small, large)}
    assert abs(money[two.pk] - 2 * money[one.pk]) <= Decimal("0.02")
    assert money[one.pk] > 0
    assert sum(quote.metal_total for quote in (small, large)) == metal_cost_of(plan)


@pytest.mark.usefixtures("undivided")
def test_waste_is_shared_in_proportion_to_the_pieces(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    a_brief = making.brief(cast, metal)
    one = making.approved_project(a_brief, cast.seat, metal, box(0, 0, 40, 20))
    two = making.approved_project(a_brief, cast.classmate_seat, metal, box(0, 0, 40, 40))
    plan = making.placed(cast, one, two)
    small, large = plan.quotes.get(project=one), plan.quotes.get(project=two)
    assert float(large.waste_area_mm2) == pytest.approx(2 * float(small.waste_area_mm2), abs=0.05)


@pytest.mark.parametrize(
    ("per", "amount", "words"),
    [
        # 36 cm at 0.42 for 18 cm; 12 cm² at 1.10 for 300; 5 holes at 1.25 for 40 (by hand)
        ("cm_sawn", "0.84", "36 cm of sawing"),
        ("cm2", "0.04", "12 cm²"),
        ("hole", "0.16", "5 holes"),
        ("project", "0.30", "for the project"),
    ],
)
def test_consumables_are_paid_by_the_schools_own_rates(
    cast: Cast, per: str, amount: str, words: str
) -> None:
    rate = next(one for one in making.supplies(cast) if one.per == per)
    use = Use(saw_line_mm=360.0, prepared_mm2=1200.0, holes=5)
    line = consumable_line(rate, use)
    assert (line.kind, line.amount) == (rate.kind, Decimal(amount))
    assert words in line.text


@pytest.mark.usefixtures("undivided")
@pytest.mark.parametrize(
    ("hand", "shared"), [(Hand.SURE, 0.3), (Hand.SURER, 0.5), (Hand.FIRST, 0.7)]
)
@pytest.mark.usefixtures("undivided")
def test_saw_lines_of_all_quotes_are_the_plans_saw_line(
    cast: Cast, hand: str, shared: float
) -> None:
    """Four squares of two students just fit side by side, with the lines that they share."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 60 + 2 * shared, 40 + shared))
    a_brief = making.brief(cast, metal, hand=hand)
    square = box(0, 0, 20, 20)
    plan = making.placed(
        cast,
        making.approved_project(a_brief, cast.seat, metal, square, copies=2),
        making.approved_project(a_brief, cast.classmate_seat, metal, square, copies=2),
    )
    measures = plan_from_json(plan.answer or {}).measures
    sawn = [quote.rates["saw_line_mm"] for quote in plan.quotes.all()]
    assert len(sawn) == 2
    assert sum(sawn) == pytest.approx(measures.saw_line_mm, abs=0.1)
    assert measures.shared_line_mm > 0


def test_quote_is_frozen_when_prices_change_later(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    making.supplies(cast)
    plan = making.placed(cast, making.approved_project(making.brief(cast, metal), cast.seat, metal))
    before = planned_total(plan)
    Consumable.objects.update(price=Decimal(50))
    StockPiece.objects.update(cost=Decimal(500))
    assert [quote.total for quote in make_quotes(plan)] == [before]
    assert Quote.objects.count() == 1
    with pytest.raises(HistoryIsKept):
        Quote.objects.update(total=0)


def test_retired_consumables_are_not_charged(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    making.supplies(cast)
    Consumable.objects.update(retired_at="2026-01-01T00:00Z")
    plan = making.placed(cast, making.approved_project(making.brief(cast, metal), cast.seat, metal))
    assert {line.kind for line in plan.quotes.get().lines.all()} == {"metal", "waste"}


def test_rule_of_sharing_is_stated_in_words() -> None:
    assert "by all projects on the plan in proportion to the area of their pieces" in (
        quoting.SHARING_RULE
    )
