"""One rule of rounding: what is told twice reads the same twice, and a fault stays visible."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from classroom.figures.rounding import (
    GRAM_KEPT,
    GRAM_PLACES,
    percent_of,
    places_apart,
    plain,
    rest_of,
    rounded,
    short_mm,
    told_mm,
)
from classroom.figures.units import (
    Units,
    format_area,
    format_beside,
    format_length,
    format_mass,
    format_share,
    format_size,
)


@pytest.mark.parametrize(
    ("value", "places", "shown"),
    [
        (1.915, 2, "1.92"),  # the float lies below the half that it stands for
        (2.675, 2, "2.68"),
        (0.125, 2, "0.13"),  # an exact half: not to the even side
        (-0.125, 2, "-0.13"),
        (-0.004, 2, "0.00"),
        (Decimal("1.005"), 2, "1.01"),
    ],
)
def test_halves_go_away_from_zero(value: float | Decimal, places: int, shown: str) -> None:
    assert plain(value, places) == shown


def test_what_is_no_number_is_not_shown() -> None:
    for bad in (float("nan"), float("inf"), Decimal("NaN")):
        with pytest.raises(ValueError, match="finite"):
            rounded(bad, 2)


@given(st.floats(0.0, 500.0))
def test_a_measure_reads_the_same_fresh_and_out_of_a_record(mm: float) -> None:
    stored = round(mm, 3)
    assert told_mm(mm) == told_mm(stored)
    assert format_length(mm) == format_length(stored)
    assert format_beside(mm, 2.0) == format_beside(stored, 2.0)


@given(st.floats(0.0, 9_000.0))
@example(1.044921875)
def test_a_page_shows_the_rounded_figure_of_the_file(value: float) -> None:
    assert format_mass(value) == format_mass(Decimal(plain(value, GRAM_PLACES, kept=GRAM_KEPT)))


@given(st.integers(0, 10_000))
@example(6_550)
@example(50)
def test_two_shares_of_one_whole_add_up(part: int) -> None:
    share = part / 10_000
    assert int(percent_of(share)) + int(percent_of(rest_of(share))) == 100


@pytest.mark.parametrize("units", [Units.MM, Units.INCH])
@given(st.floats(0.01, 100.0), st.floats(0.021, 0.2))
def test_a_value_never_reads_like_the_limit_that_it_misses(
    units: Units, limit: float, missed: float
) -> None:
    for value in (limit - missed, limit + missed):
        if value > 0:
            one, other = format_beside(value, limit, units)
            assert one != other


def test_as_many_places_as_it_takes_to_see_the_fault() -> None:
    assert format_beside(1.996, 2.0) == ("1.996 mm", "2.000 mm")
    assert told_mm(1.996, 2.0) == "1.996"
    assert format_beside(1.9, 2.0) == ("1.90 mm", "2.00 mm")
    assert format_beside(1.999, 2.01, Units.INCH) == ("0.0787 in", "0.0791 in")
    assert places_apart(2.0, 2.0, 2, 3) == 2
    assert format_beside(2.5, None) == ("2.50 mm", "")


def test_figures_with_their_units() -> None:
    assert format_size(27.8, 117.8) == "117.8 mm × 27.8 mm"
    assert format_size(25.4, 50.8, Units.INCH) == "2 in × 1 in"
    assert format_area(1_234.5) == "12.35 cm²"
    assert format_share(65, 100) == "65 %"
    assert format_share(1, 0) == "0 %"
    assert (short_mm(1.6), short_mm(2.0), short_mm(1.25)) == ("1.6", "2", "1.25")


def test_what_is_below_nothing_has_a_minus_and_no_hyphen() -> None:
    assert (format_mass(-2.945), format_area(-7_891)) == ("−3.0 g", "−78.91 cm²")
    assert format_mass(-0.01) == "0.0 g"
