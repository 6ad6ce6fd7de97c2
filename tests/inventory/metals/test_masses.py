"""Weights of sheet against a printed table, and the exact units of mass."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory import metals

SHEET_AREA_MM2 = (6 * 25.4) * (12 * 25.4)

# Grams of a 6 x 12 in sheet, worked out apart from this code from the AWG formula and the
# data sheets' densities.
SHEET_GRAMS = {
    18: (422.7, 405.6, 416.1, 418.5, 415.1, 421.3, 128.9, 492.6),
    20: (335.2, 321.7, 330.0, 331.9, 329.2, 334.1, 102.2, 390.7),
    22: (265.9, 255.1, 261.7, 263.2, 261.1, 265.0, 81.0, 309.8),
    24: (210.8, 202.3, 207.5, 208.7, 207.0, 210.1, 64.3, 245.7),
}
SHEET_ALLOYS = ("C11000", "C26000", "C23000", "C22000", "C75200", "C51000", "A91100", "AG925")

# Pounds per cubic inch as printed beside g/cm3 in the data sheets: a second unit of the same.
POUNDS_PER_CUBIC_INCH = {
    "C11000": 0.321,
    "C26000": 0.308,
    "C23000": 0.316,
    "C22000": 0.318,
    "C51000": 0.320,
    "A91100": 0.098,
    "A96061": 0.0975,
    "C36000": 0.307,
}


@pytest.mark.parametrize("gauge", SHEET_GRAMS)
def test_six_by_twelve_inch_sheet_weighs_what_the_table_says(gauge: int) -> None:
    for code, grams in zip(SHEET_ALLOYS, SHEET_GRAMS[gauge], strict=True):
        density = metals.alloy(code).density_g_cm3
        exact_thickness_mm = metals.bs_inches(gauge) * 25.4
        assert metals.mass_g(SHEET_AREA_MM2, exact_thickness_mm, density) == pytest.approx(
            grams, abs=0.06
        ), code


def test_thickness_key_weighs_within_a_five_hundredth_of_the_exact_gauge() -> None:
    for gauge in SHEET_GRAMS:
        by_key = metals.mass_g(SHEET_AREA_MM2, metals.bs_thickness_mm(gauge), Decimal("8.89"))
        assert by_key == pytest.approx(SHEET_GRAMS[gauge][0], rel=0.002)


def test_square_inch_of_20_gauge_copper_weighs_4_656_g() -> None:
    exact_thickness_mm = metals.bs_inches(20) * 25.4
    assert metals.mass_g(25.4**2, exact_thickness_mm, 8.89) == pytest.approx(4.656, abs=0.0005)


@pytest.mark.parametrize("code", POUNDS_PER_CUBIC_INCH)
def test_density_agrees_with_its_printed_pounds_per_cubic_inch(code: str) -> None:
    pounds = float(metals.alloy(code).density_g_cm3) * 16.387064 / 453.59237
    assert pounds == pytest.approx(POUNDS_PER_CUBIC_INCH[code], abs=0.0006)


def test_sterling_density_follows_from_its_makeup() -> None:
    # Volumes of 92.5 % silver (10.49) and 7.5 % copper (8.96, pure) add up: about 10.36.
    by_volumes = 1 / (0.925 / 10.49 + 0.075 / 8.96)
    assert float(metals.alloy("AG925").density_g_cm3) == pytest.approx(by_volumes, abs=0.02)


def test_units_of_mass_are_the_exact_ones() -> None:
    # SI tables (ISO 31-3): 7000 grains to the pound, 480 to the troy ounce, 24 to the dwt.
    assert metals.GRAM_PER_POUND == metals.GRAM_PER_GRAIN * 7000
    assert metals.GRAM_PER_OUNCE * 16 == metals.GRAM_PER_POUND
    assert metals.GRAM_PER_TROY_OUNCE == metals.GRAM_PER_GRAIN * 480
    assert metals.GRAM_PER_PENNYWEIGHT == metals.GRAM_PER_GRAIN * 24
    assert Decimal("31.1034768") == metals.GRAM_PER_TROY_OUNCE


def test_troy_ounce_is_not_the_everyday_ounce() -> None:
    assert metals.grams(Decimal(1), "ozt") > metals.grams(Decimal(1), "oz")
    with pytest.raises(ValueError, match="choose from"):
        metals.grams(Decimal(1), "stone")


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_weight_is_never_made_of_nonsense(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        metals.mass_g(bad, Decimal("0.8"), 8.89)
    with pytest.raises(ValueError, match="finite"):
        metals.mass_g(100.0, bad, 8.89)


def test_kerf_loss_of_a_hundred_millimetre_cut_in_20_gauge_copper() -> None:
    # 0.26 x 100 mm of 0.812 mm copper: 0.19 g, worked out by hand.
    assert metals.mass_g(0.26 * 100, Decimal("0.812"), 8.89) == pytest.approx(0.19, abs=0.005)
