"""Quotes: what each project pays adds up to what the metal costs, to the cent."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from studio.core.cutting import Hands, Job, Plan, Wanted
from studio.core.picturing.sawing_order import sawing_orders, sawn_by_group
from studio.core.placing import place
from studio.core.pricing.shares import (
    BenchUse,
    CostPolicy,
    MetalUse,
    Rates,
    WasteRule,
    metal_uses,
    quote,
    share_to_the_cent,
)
from studio.core.verifying import measure
from tests.core.placing.jobs import at, class_job, disc, sheet

D = Decimal


def saw_lines(job: Job, plan: Plan) -> dict[str, Decimal]:
    """What each group saws, as quotes count it, to a thousandth of a millimetre."""
    sawn = sawn_by_group(job, sawing_orders(job, plan.placements))
    return {group: D(mm).quantize(D("0.001")) for group, mm in sawn.items()}


def test_a_third_each_gives_the_odd_cent_to_the_first_id() -> None:
    shares = share_to_the_cent(D("10.00"), {"c": D(1), "a": D(1), "b": D(1)})
    assert shares == {"a": D("3.34"), "b": D("3.33"), "c": D("3.33")}


def test_the_largest_remainder_gets_the_cent() -> None:
    # exact shares 3.333 and 6.667: the second is nearer to its next cent
    assert share_to_the_cent(D("10.00"), {"a": D(1), "b": D(2)}) == {
        "a": D("3.33"),
        "b": D("6.67"),
    }


def test_one_cent_among_many_goes_to_the_heaviest() -> None:
    shares = share_to_the_cent(D("0.01"), {"a": D(1), "b": D(5), "c": D(2)})
    assert shares == {"a": D("0.00"), "b": D("0.01"), "c": D("0.00")}


def test_weights_that_are_all_zero_share_equally() -> None:
    assert share_to_the_cent(D("0.03"), {"a": D(0), "b": D(0)}) == {
        "a": D("0.02"),
        "b": D("0.01"),
    }


def test_a_credit_is_shared_like_a_charge() -> None:
    assert share_to_the_cent(D("-1.00"), {"a": D(1), "b": D(2)}) == {
        "a": D("-0.33"),
        "b": D("-0.67"),
    }


def test_nobody_can_share_only_nothing() -> None:
    assert share_to_the_cent(D(0), {}) == {}
    with pytest.raises(ValueError, match="nobody"):
        share_to_the_cent(D(1), {})


@pytest.mark.parametrize("weight", [D(-1), D("NaN"), D("Infinity")])
def test_weights_that_are_no_weights_are_refused(weight: Decimal) -> None:
    with pytest.raises(ValueError, match="weight"):
        share_to_the_cent(D(1), {"a": weight})


money = st.decimals(0, 10_000, places=2)
weight = st.decimals(0, 1_000_000, places=3)
names = st.text("abcdefgh", min_size=1, max_size=3)


@settings(deadline=None)
@given(money, st.dictionaries(names, weight, min_size=1, max_size=30))
def test_shares_always_add_up_and_are_within_a_cent_of_fair(
    total: Decimal, weights: dict[str, Decimal]
) -> None:
    shares = share_to_the_cent(total, weights)
    assert sum(shares.values()) == total
    whole = sum(weights.values())
    for name, share in shares.items():
        assert share >= 0
        fair = total * weights[name] / whole if whole else total / len(weights)
        assert abs(share - fair) <= D("0.010000001")


def one_metal(consumed: str, pieces: dict[str, str], price: str = "0.0300") -> MetalUse:
    return MetalUse("S1", D(price), D(consumed), {k: D(v) for k, v in pieces.items()})


def test_a_project_alone_pays_for_all_the_metal_that_its_plan_consumes() -> None:
    found = quote([one_metal("1500", {"ada": "1000"})], {"ada": BenchUse()}, Rates())
    assert [(line.code, line.amount) for line in found.projects[0].lines] == [
        ("metal", D("30.00")),
        ("waste", D("15.00")),
    ]
    assert found.metal == found.total == D("45.00")


def test_waste_is_shared_in_proportion_to_the_area_of_the_pieces() -> None:
    found = quote(
        [one_metal("1600", {"ada": "300", "ben": "900"})],
        {"ada": BenchUse(), "ben": BenchUse()},
        Rates(),
    )
    waste = {p.project: p.lines[1].amount for p in found.projects}
    assert waste == {"ada": D("3.00"), "ben": D("9.00")}


def test_the_school_can_bear_the_waste() -> None:
    found = quote(
        [one_metal("1500", {"ada": "1000"})],
        {"ada": BenchUse()},
        Rates(),
        CostPolicy(waste=WasteRule.SCHOOL),
    )
    assert [line.code for line in found.projects[0].lines] == ["metal"]
    assert found.school == D("15.00")
    assert found.total == D("45.00")


def test_consumables_are_paid_by_use_and_lines_of_nothing_are_left_out() -> None:
    rates = Rates(
        blades_per_cm=D("0.02"),
        abrasive_per_cm2=D("0.01"),
        adhesive_per_project=D("0.15"),
        drill_per_hole=D("0.05"),
    )
    use = BenchUse(saw_line_mm=D(425), prepared_mm2=D(2000), holes=0)
    found = quote([one_metal("1000", {"ada": "1000"})], {"ada": use}, rates)
    lines = {line.code: line.amount for line in found.projects[0].lines}
    assert lines["blades"] == D("0.85")
    assert lines["abrasive"] == D("0.20")
    assert lines["adhesive"] == D("0.15")
    assert "drill" not in lines


def test_a_school_that_gives_consumables_away_has_no_lines_for_them() -> None:
    found = quote(
        [one_metal("1000", {"ada": "1000"})],
        {"ada": BenchUse(saw_line_mm=D(425))},
        Rates(blades_per_cm=D("0.02")),
        CostPolicy(consumables=False),
    )
    assert {line.code for line in found.projects[0].lines} == {"metal", "waste"}


def test_a_project_that_is_not_on_the_quote_is_refused() -> None:
    with pytest.raises(ValueError, match="not on the quote"):
        quote([one_metal("10", {"zoe": "5"})], {"ada": BenchUse()}, Rates())


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.decimals(0, 1, places=6),
            st.decimals(0, 50_000, places=3),
            st.dictionaries(names, weight, min_size=1, max_size=8),
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(WasteRule),
)
def test_the_projects_and_the_school_pay_the_metal_consumed_to_the_cent(
    metals: list[tuple[Decimal, Decimal, dict[str, Decimal]]], rule: WasteRule
) -> None:
    uses = [
        MetalUse(f"S{i}", price, sum(pieces.values(), D(0)) + waste, pieces)
        for i, (price, waste, pieces) in enumerate(metals)
    ]
    projects = {name: BenchUse() for use in uses for name in use.pieces_mm2}
    found = quote(uses, projects, Rates(), CostPolicy(waste=rule))
    exact = sum((use.consumed_mm2 * use.price_per_mm2 for use in uses), D(0))
    assert abs(found.metal - exact) <= D("0.005")
    assert sum((p.metal for p in found.projects), D(0)) + found.school == found.metal
    assert found.total == found.metal
    for project in found.projects:
        assert all(line.amount >= 0 for line in project.lines)
        assert project.total == sum(line.amount for line in project.lines)


def test_a_real_plan_is_paid_for_to_the_cent() -> None:
    job = class_job()
    plan = place(job, rounds=1)
    uses = metal_uses(job, plan, {"S1": D("0.0003"), "O1": D("0.0003")})
    sawn = saw_lines(job, plan)
    assert set(sawn) == {"ada", "ben", "cleo", "dan"}
    assert float(sum(sawn.values())) == pytest.approx(plan.measures.saw_line_mm, abs=0.01)
    found = quote(uses, {name: BenchUse(saw_line_mm=mm) for name, mm in sawn.items()}, Rates())
    assert float(found.metal) == pytest.approx(plan.measures.consumed_mm2 * 0.0003, abs=0.006)
    assert sum(p.total for p in found.projects) == found.metal


def test_a_shared_line_counts_half_for_each_neighbour() -> None:
    job = Job(
        (sheet(box(0, 0, 80, 20)),),
        (Wanted("a", box(0, 0, 20, 20), group="ada"), Wanted("b", box(0, 0, 20, 20), group="ben")),
    )
    sawn = saw_lines(job, place(job, rounds=1))
    # in the strip's left end: one line between them, one to the right of the second
    assert sorted(sawn.values()) == [D(10), D(30)]


def test_a_cut_down_the_middle_counts_half_for_each_neighbour() -> None:
    """Two squares of 20 and a disc in a row, each 1 mm or a little more from the next."""
    hands = Hands(gap_mm=1.0, shared_mm=0.5)
    square_ = box(0, 0, 20, 20)
    job = Job(
        (sheet(box(0, 0, 120, 60)),),
        (
            Wanted("a", square_, group="ada"),
            Wanted("b", square_, group="ben"),
            Wanted("c", disc(8), group="cleo"),
        ),
        edge_margin_mm=2.0,
        hands=hands,
    )
    laid = (at("a", 0, 30, 20), at("b", 0, 51, 20), at("c", 0, 80.2, 30))
    figures, offcuts = measure(job, laid)
    plan = Plan(laid, (), figures, offcuts, 1, 0.0, 0, by_hand=True)
    sawn = saw_lines(job, plan)
    assert sawn["ada"] == D(70)  # four sides, of one of them half
    assert D(60) < sawn["ben"] < D(70)
    assert float(sum(sawn.values())) == pytest.approx(figures.saw_line_mm, abs=0.002)
