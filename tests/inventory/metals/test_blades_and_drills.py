"""Blades, drills and the advice drawn from them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory import metals

# Number drills #80 to #40 in inches, as in public-domain drill tables (ASME B94.11M).
NUMBER_DRILL_TABLE = """
80 .0135 79 .0145 78 .0160 77 .0180 76 .0200 75 .0210 74 .0225 73 .0240 72 .0250 71 .0260
70 .0280 69 .0292 68 .0310 67 .0320 66 .0330 65 .0350 64 .0360 63 .0370 62 .0380 61 .0390
60 .0400 59 .0410 58 .0420 57 .0430 56 .0465 55 .0520 54 .0550 53 .0595 52 .0635 51 .0670
50 .0700 49 .0730 48 .0760 47 .0785 46 .0810 45 .0820 44 .0860 43 .0890 42 .0935 41 .0960
40 .0980
"""

# Blade size: (diagonal mm, smallest number drill that lets it through), by hand from the chart.
PILOTS = {
    "8/0": (0.358, "#79"),
    "7/0": (0.371, "#78"),
    "6/0": (0.398, "#78"),
    "5/0": (0.448, "#77"),
    "4/0": (0.484, "#76"),
    "3/0": (0.540, "#74"),
    "2/0": (0.580, "#73"),
    "1/0": (0.625, "#72"),
    "1": (0.682, "#70"),
    "2": (0.779, "#68"),
    "3": (0.818, "#66"),
    "4": (0.868, "#65"),
    "5": (0.932, "#63"),
    "6": (1.037, "#59"),
    "7": (1.124, "#56"),
    "8": (1.225, "#55"),
}


def test_all_41_number_drills_have_their_printed_diameters() -> None:
    words = NUMBER_DRILL_TABLE.split()
    printed = dict(zip(words[::2], words[1::2], strict=True))
    assert {one.name: one.diameter_in for one in metals.NUMBER_DRILLS} == {
        f"#{number}": Decimal(size) for number, size in printed.items()
    }
    assert len(metals.NUMBER_DRILLS) == 41


@pytest.mark.parametrize(
    ("name", "mm"), [("1/64", 0.396875), ("1/16", 1.5875), ("3/32", 2.38125), ("1/4", 6.35)]
)
def test_fractions_of_an_inch_are_exact(name: str, mm: float) -> None:
    assert metals.drill(name).diameter_mm == pytest.approx(mm, abs=1e-12)


def test_drills_are_sorted_by_diameter() -> None:
    sizes = [one.diameter_in for one in metals.DRILLS]
    assert sizes == sorted(sizes)
    assert len(sizes) == 52


@pytest.mark.parametrize(
    ("wanted", "name"), [(1.6, "1/16"), (1.0, "#61"), (0.8, "1/32"), (2.0, "#47"), (0.1, "#80")]
)
def test_nearest_drill(wanted: float, name: str) -> None:
    nearest = metals.drill_nearest(wanted)
    assert nearest.drill.name == name
    assert nearest.off_mm == pytest.approx(nearest.drill.diameter_mm - wanted)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_no_drill_is_nearest_to_nonsense(bad: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        metals.drill_nearest(bad)


@pytest.mark.parametrize("size", PILOTS)
def test_pilot_drill_lets_the_blade_s_diagonal_through_and_the_next_smaller_does_not(
    size: str,
) -> None:
    diagonal, name = PILOTS[size]
    advice = metals.pilot_advice(metals.blade(size))
    assert advice.blade.diagonal_mm == pytest.approx(diagonal, abs=0.0006)
    assert advice.smallest.name == name
    thinner = [one for one in metals.NUMBER_DRILLS if one.diameter_in < advice.smallest.diameter_in]
    assert all(one.diameter_mm < advice.blade.diagonal_mm for one in thinner)


def test_chart_drill_is_often_too_narrow_for_the_blade_s_diagonal() -> None:
    advice = metals.pilot_advice(metals.USUAL_BLADE)
    assert advice.chart.diameter_mm < advice.blade.diagonal_mm


def test_classroom_s_one_millimetre_drill_passes_every_blade_up_to_number_5() -> None:
    passing = [one.size for one in metals.BLADES if metals.pilot_advice(one).one_size is not None]
    assert passing == [one.size for one in metals.BLADES][: passing.index("5") + 1]


@pytest.mark.parametrize(
    ("size", "gauge", "teeth"),
    [
        ("2/0", 18, 2.3),
        ("2/0", 20, 1.8),
        ("2/0", 22, 1.4),
        ("4/0", 20, 2.1),
        ("4/0", 22, 1.7),
        ("6/0", 22, 1.9),
        ("6/0", 24, 1.5),
        ("1", 16, 2.6),
    ],
)
def test_teeth_in_the_metal(size: str, gauge: int, teeth: float) -> None:
    # Teeth per inch of the chart times the gauge's inches, by hand.
    found = metals.teeth_in_metal(metals.blade(size), metals.bs_thickness_mm(gauge))
    assert round(found, 1) == teeth


def test_usual_blade_is_the_first_choice_for_20_gauge_though_it_has_less_than_two_teeth() -> None:
    choice = metals.first_choice_blade(metals.bs_thickness_mm(20))
    assert choice.blade is metals.USUAL_BLADE
    assert choice.rating is metals.Rating.CARE


def test_first_choice_grows_coarser_as_the_sheet_grows_thicker() -> None:
    sizes = [one.size for one in metals.BLADES]
    choices = [
        sizes.index(metals.first_choice_blade(metals.bs_thickness_mm(gauge)).blade.size)
        for gauge in range(30, 9, -1)
    ]
    assert choices == sorted(choices)


def test_advice_covers_every_blade_and_only_the_coarse_ones_are_warned_about() -> None:
    advice = metals.blade_advice(Decimal("0.812"))
    assert len(advice) == len(metals.BLADES)
    assert advice[0].rating is metals.Rating.GOOD
    assert advice[-1].rating is metals.Rating.WARN
    assert "finer blade" in advice[-1].reason


def test_kerf_of_the_usual_blade_is_about_0_26_to_0_31_mm() -> None:
    least, most = metals.kerf_advice(metals.USUAL_BLADE)
    assert least == pytest.approx(0.262, abs=0.001)
    assert most == pytest.approx(0.314, abs=0.001)


@pytest.mark.parametrize(
    ("gauge", "usual"),
    [(22, ("#65", "#60")), (20, ("#60", "#56")), (18, ("#55", "#53")), (16, ("#52", "1/16"))],
)
def test_ring_hole_advice_holds_the_usual_drills(gauge: int, usual: tuple[str, str]) -> None:
    # Pairs of wire and drill: common practice, no source.
    advice = metals.ring_hole_advice(float(metals.bs_thickness_mm(gauge)))
    assert {one.name for one in advice.drills} >= set(usual)
    assert advice.centre_from_edge_mm > 2.0


def test_ring_must_be_wide_enough_to_swing_round_the_edge() -> None:
    assert metals.least_ring_inside_mm(2.0, 0.8) == pytest.approx(2.154, abs=0.001)


@pytest.mark.parametrize("bad", [0.0, 5.0, float("nan")])
def test_ring_wire_out_of_bounds_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match=r"between 0\.2 and 3 mm"):
        metals.ring_hole_advice(bad)


def test_unknown_blade_and_drill_are_refused_with_the_choice() -> None:
    with pytest.raises(metals.UnknownMetalError, match="2/0"):
        metals.blade("9/0")
    with pytest.raises(metals.UnknownMetalError, match="1/64"):
        metals.drill("#39")
