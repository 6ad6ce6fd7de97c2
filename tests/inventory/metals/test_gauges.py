"""Gauge, ounce and metric thicknesses against the tables of the trade."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory import metals

# AWG table as printed in two engineering references, identical to four places of an inch;
# the standard is ASTM B258 (title from memory). gauge: (inch, mm)
AWG_TABLE = {
    10: ("0.1019", "2.588"),
    11: ("0.0907", "2.305"),
    12: ("0.0808", "2.053"),
    13: ("0.0720", "1.828"),
    14: ("0.0641", "1.628"),
    15: ("0.0571", "1.450"),
    16: ("0.0508", "1.291"),
    17: ("0.0453", "1.150"),
    18: ("0.0403", "1.024"),
    19: ("0.0359", "0.912"),
    20: ("0.0320", "0.812"),
    21: ("0.0285", "0.723"),
    22: ("0.0253", "0.644"),
    23: ("0.0226", "0.573"),
    24: ("0.0201", "0.511"),
    25: ("0.0179", "0.455"),
    26: ("0.0159", "0.405"),
    27: ("0.0142", "0.361"),
    28: ("0.0126", "0.321"),
    29: ("0.0113", "0.286"),
    30: ("0.0100", "0.255"),
}

# ASTM B370's nominal thicknesses in inches (from memory).
OUNCE_TABLE = {12: 0.0162, 16: 0.0216, 20: 0.0270, 24: 0.0323, 32: 0.0431, 48: 0.0647}


@pytest.mark.parametrize("gauge", AWG_TABLE)
def test_gauge_formula_gives_the_printed_table(gauge: int) -> None:
    inch, mm = AWG_TABLE[gauge]
    assert f"{metals.bs_inches(gauge):.4f}" == inch
    assert metals.bs_thickness_mm(gauge) == Decimal(mm)


def test_gauge_36_is_five_thousandths_of_an_inch_by_definition() -> None:
    assert metals.bs_inches(36) == pytest.approx(0.005, abs=1e-15)
    assert metals.bs_thickness_mm(36) == Decimal("0.127")


def test_six_gauges_thinner_is_about_half_as_thick() -> None:
    assert metals.bs_inches(14) / metals.bs_inches(20) == pytest.approx(2.005, abs=0.001)


@pytest.mark.parametrize("gauge", [-1, 37, 1000])
def test_gauge_outside_the_table_is_refused_with_the_range(gauge: int) -> None:
    with pytest.raises(metals.UnknownMetalError, match="from 0 to 36"):
        metals.bs_thickness_mm(gauge)


@pytest.mark.parametrize("ounces", OUNCE_TABLE)
def test_ounce_copper_has_its_nominal_thickness(ounces: int) -> None:
    nominal_mm = OUNCE_TABLE[ounces] * 25.4
    assert float(metals.ounce_copper_mm(ounces)) == pytest.approx(
        nominal_mm, abs=0.0018
    )  # both are rounded


def test_ounce_copper_weighs_its_ounces_per_square_foot() -> None:
    # 16 oz on 304.8 x 304.8 mm at 0.322 lb/cubic inch (8.913 g/cm3) is one pound.
    grams = metals.mass_g(304.8**2, metals.ounce_copper_mm(16), 0.322 * 453.59237 / 16.387064)
    assert grams == pytest.approx(453.59, rel=0.001)


def test_copper_weight_that_is_not_sold_is_refused() -> None:
    with pytest.raises(metals.UnknownMetalError, match="12, 16, 20"):
        metals.ounce_copper_mm(17)


@pytest.mark.parametrize(
    ("thickness", "label"),
    [
        ("0.812", "20 ga (B&S)"),
        ("0.81", "20 ga (B&S)"),
        ("0.8128", "20 ga (B&S)"),  # 0.032 in, as a decimal-inch supplier sells it
        ("1.024", "18 ga (B&S)"),
        ("0.80", "0.80 mm"),
        ("1", "1.00 mm"),
        ("0.5", "0.50 mm"),
        ("0.635", "0.635 mm"),  # 0.025 in is between 22 and 23 ga
    ],
)
def test_gauge_is_named_only_when_the_sheet_is_that_gauge(thickness: str, label: str) -> None:
    assert metals.gauge_label(Decimal(thickness), "C26000") == label


def test_every_gauge_is_named_by_its_own_thickness() -> None:
    for gauge in range(37):
        assert metals.gauge_label(metals.bs_thickness_mm(gauge)) == f"{gauge} ga (B&S)"


def test_copper_sold_by_weight_is_named_by_weight_and_other_alloys_are_not() -> None:
    assert metals.gauge_label(Decimal("0.548"), "C11000") == "16 oz per sq ft"
    assert metals.gauge_label(Decimal("0.548"), "C26000") == "0.548 mm"


def test_metric_sheet_says_which_gauge_it_stands_in_for() -> None:
    assert metals.thickness_label(Decimal("0.8")) == "0.80 mm, near 20 ga"
    assert metals.thickness_label(Decimal("0.812")) == "0.812 mm, 20 ga (B&S)"
    assert metals.thickness_label(Decimal("0.75")) == "0.75 mm"


def test_old_copper_gauge_does_not_pass_for_a_bs_gauge() -> None:
    # 12 in the older system is 0.108 in (gauge comparison table, verified); B&S 12 is 0.0808 in.
    assert metals.gauge_label(Decimal("0.108") * Decimal("25.4")) != "12 ga (B&S)"


@pytest.mark.parametrize("bad", ["0", "-1", "0.049", "10.001", "NaN", "Infinity", "1e400", "thin"])
def test_impossible_thickness_is_refused(bad: str) -> None:
    with pytest.raises(metals.ThicknessError):
        metals.thickness_key(bad)


@pytest.mark.parametrize(
    ("given", "key"), [(0.8, "0.800"), ("0.8118", "0.812"), (Decimal("0.0505"), "0.051")]
)
def test_thickness_key_has_three_places_rounded_half_up(
    given: float | str | Decimal, key: str
) -> None:
    assert str(metals.thickness_key(given)) == key
