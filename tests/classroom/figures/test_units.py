"""Lengths as people type and read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from classroom.figures.units import (
    MM_PER_CSS_PX,
    MM_PER_INCH,
    MM_PER_POINT,
    LengthAmbiguousError,
    LengthError,
    LengthMissingError,
    LengthOutOfBoundsError,
    LengthUnit,
    LengthUnreadableError,
    Units,
    format_area,
    format_length,
    format_mass,
    format_run,
    format_thickness,
    length_to_type,
    parse_length_mm,
)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("62", 62.0),
        ("62 mm", 62.0),
        ("62mm", 62.0),
        (" 62  MM ", 62.0),
        ("6.2cm", 62.0),
        ("62,5 mm", 62.5),
        ("0,812", 0.812),
        (".5", 0.5),
        ("5.", 5.0),
        ("+5", 5.0),
        ("62 millimetres", 62.0),
        ("1 in", 25.4),
        ("1 inch", 25.4),
        ("0.5in", 12.7),
        ('1"', 25.4),
        ("1″", 25.4),
        ("1”", 25.4),
        ("1''", 25.4),
        ("1/16 in", 1.5875),
        ("2 3/8 in", 60.325),
        ('2-3/8"', 60.325),
        ("2 - 3/8 in.", 60.325),
        ("2 3 / 8 in", 60.325),
        ("9/8 in", 28.575),
        ("½ in", 12.7),
        ("2½ in", 63.5),
        ("2 3\u20448 in", 60.325),
        ("62\u00a0mm", 62.0),
    ],
)
def test_length_is_read_as_a_person_meant_it(typed: str, mm: float) -> None:
    assert parse_length_mm(typed) == pytest.approx(mm, abs=1e-12)


def test_bare_number_is_in_the_school_s_own_unit() -> None:
    assert parse_length_mm("2", LengthUnit.INCH) == 50.8
    assert parse_length_mm("3/8", Units.INCH.typed) == pytest.approx(9.525)
    assert parse_length_mm("2 mm", LengthUnit.INCH) == 2.0


@pytest.mark.parametrize("typed", ["", "   ", "\t\n"])
def test_empty_field_is_told_apart_from_a_bad_one(typed: str) -> None:
    with pytest.raises(LengthMissingError, match="No length"):
        parse_length_mm(typed)


@pytest.mark.parametrize(
    "typed",
    [
        "mm",
        "sixty",
        "nan",
        "NaN mm",
        "inf",
        "infinity in",
        "1e400",
        "1e3 mm",
        "62 m",
        "62 px",
        "5'",
        "1 2 3",
        "2 3/0 in",
        "3/8/2",
        "2.5 3/8 in",
        "10 1O",
        "0x10",
        "1_000",
        "12;DROP",
        "\u0661\u0662 mm",  # digits of another script look like letters to most readers here
        "6" * 41,
        "6" * 13,
        "62 mm mm",
        ".",
        "1.2.3",
        "(5)",
        "5\x00",
    ],
)
def test_what_is_not_a_length_is_refused(typed: str) -> None:
    with pytest.raises(LengthUnreadableError) as refused:
        parse_length_mm(typed)
    assert refused.value.mend


@pytest.mark.parametrize("typed", ["1,250", "12,500 mm", "1,250.5", "1.250,5", "2 9/8 in"])
def test_length_that_reads_two_ways_is_asked_about(typed: str) -> None:
    with pytest.raises(LengthAmbiguousError):
        parse_length_mm(typed)


def test_ambiguous_comma_offers_both_readings() -> None:
    with pytest.raises(LengthAmbiguousError) as refused:
        parse_length_mm("1,250 mm")
    assert refused.value.mend == "Write 1250 or 1.250."


@pytest.mark.parametrize("typed", ["-5", "-0.1 mm", "\u22125 mm", "0", "0.0001 mm", "10001 mm"])
def test_length_out_of_bounds_is_refused(typed: str) -> None:
    with pytest.raises(LengthOutOfBoundsError):
        parse_length_mm(typed)


def test_bounds_are_the_caller_s_inclusive_and_said_in_the_typed_unit() -> None:
    assert parse_length_mm("100", most_mm=100.0) == 100.0
    assert parse_length_mm("0", least_mm=0.0) == 0.0
    with pytest.raises(LengthOutOfBoundsError, match="from 1 cm to 10 cm"):
        parse_length_mm("10.01 cm", least_mm=10.0, most_mm=100.0)


def test_refusal_repeats_only_printable_signs() -> None:
    with pytest.raises(LengthUnreadableError) as refused:
        parse_length_mm("12\x1b[31m")
    assert "\x1b" not in str(refused.value)


@given(st.text(max_size=60))
def test_any_text_gives_a_length_within_bounds_or_a_length_error(typed: str) -> None:
    try:
        mm = parse_length_mm(typed)
    except LengthError:
        return
    assert 0.001 <= mm <= 10_000.0


@given(st.text(alphabet="0123456789 ./,-+eEinmc\"'½", max_size=16))
def test_text_that_looks_like_a_length_never_breaks_the_reader(typed: str) -> None:
    try:
        mm = parse_length_mm(typed)
    except LengthError:
        return
    assert math.isfinite(mm)


@pytest.mark.parametrize(
    ("mm", "units", "shown"),
    [
        (62.0, Units.MM, "62.0 mm"),
        (61.96, Units.MM, "62.0 mm"),
        (-0.01, Units.MM, "0.0 mm"),
        (61.9125, Units.INCH, "2 7/16 in"),
        (62.0, Units.INCH, "2 7/16 in"),  # 2.4409 in; the nearest 1/64 is 2 28/64
        (25.4, Units.INCH, "1 in"),
        (12.7, Units.INCH, "1/2 in"),
        (25.39, Units.INCH, "1 in"),
        (0.1, Units.INCH, "0.0039 in"),
        (0.3, Units.INCH, "0.012 in"),  # 1/64 would be 0.4 mm
        (1.0, Units.INCH, "0.039 in"),
        (3.175, Units.INCH, "1/8 in"),
        (0.0, Units.INCH, "0 in"),
        (-12.7, Units.INCH, "-1/2 in"),
        (62.0, Units.INCH_DECIMAL, "2.441 in"),
    ],
)
def test_length_is_shown_with_its_unit(mm: float, units: Units, shown: str) -> None:
    assert format_length(mm, units) == shown


@pytest.mark.parametrize(
    ("mm", "units", "shown"),
    [
        (0.812, Units.MM, "0.812 mm"),
        (0.8, Units.MM, "0.80 mm"),
        (0.812, Units.INCH, "0.032 in"),
    ],
)
def test_thickness_is_always_decimal(mm: float, units: Units, shown: str) -> None:
    assert format_thickness(mm, units) == shown


def test_areas_and_masses_have_the_school_s_units() -> None:
    assert format_area(1234.0) == "12.34 cm²"
    assert format_area(25.4**2, Units.INCH) == "1.00 sq in"
    assert format_mass(12.34) == "12.3 g"
    assert format_mass(28.349523125, Units.INCH) == "1.00 oz"


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_only_finite_numbers_are_shown(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        format_length(bad)


@given(st.floats(min_value=0.02, max_value=9_999.0), st.sampled_from(list(Units)))
def test_length_in_a_form_field_reads_back_to_a_thousandth(mm: float, units: Units) -> None:
    assert parse_length_mm(length_to_type(mm, units)) == pytest.approx(mm, abs=0.00051)


@pytest.mark.parametrize(
    ("mm", "typed"),
    [(0.3, "0.012 in"), (2.0, "0.0787 in"), (1.59, "1/16 in"), (12.7, "0.5 in"), (25.4, "1 in")],
)
def test_inches_are_typed_as_short_as_a_hundredth_allows(mm: float, typed: str) -> None:
    assert length_to_type(mm, Units.INCH, kept=2) == typed
    assert round(parse_length_mm(typed), 2) == mm


def test_how_far_to_saw_has_one_notation_whatever_its_length() -> None:
    assert [format_run(mm, Units.INCH) for mm in (5.0, 6.35, 13.5)] == [
        "0.197 in",
        "0.250 in",
        "0.531 in",
    ]
    assert format_run(13.5) == "13.5 mm"


@given(st.floats(min_value=1.0, max_value=9_990.0))
def test_shown_inch_fraction_is_within_half_a_sixty_fourth(mm: float) -> None:
    shown = format_length(mm, Units.INCH)
    # Of the length as it is kept: to a thousandth of a millimetre.
    assert abs(parse_length_mm(shown) - mm) <= MM_PER_INCH / 128 + 0.0005 + 1e-9


def test_inch_pixel_and_point_are_the_standard_ones() -> None:
    # CSS Values and Units: 1 in = 96 px = 72 pt = 25.4 mm.
    assert MM_PER_INCH == 25.4
    assert pytest.approx(25.4, abs=1e-12) == 96 * MM_PER_CSS_PX
    assert pytest.approx(25.4, abs=1e-12) == 72 * MM_PER_POINT
    assert pytest.approx(3.7795, abs=0.0001) == 1 / MM_PER_CSS_PX
