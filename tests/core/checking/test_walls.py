"""Thin metal and narrow slots, measured against shapes whose measures are known by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from studio.core.checking import check
from studio.core.drawing import Finding, Limits, Weight
from tests.shapes import (
    DUMBBELL_1_6,
    HOURGLASS_1_4,
    SHARP_LEAF,
    SQUARE_40,
    TWO_WINDOWS_1_5_APART,
    WEB_1_2,
    circle,
    drawing,
    with_windows,
)

THIN = {"bridge-thin", "web-thin", "neck-thin", "prong-thin", "piece-thin", "slot-narrow"}


def thin(*outlines: Polygon, limits: Limits | None = None) -> list[Finding]:
    return [each for each in check(drawing(*outlines), limits or Limits()) if each.code in THIN]


def only(outline: Polygon) -> Finding:
    found = thin(outline)
    assert len(found) == 1, found
    return found[0]


def test_a_plain_square_has_nothing_against_it() -> None:
    assert check(drawing(SQUARE_40), Limits()) == ()


@pytest.mark.parametrize(
    ("shape", "code", "value", "at"),
    [
        (TWO_WINDOWS_1_5_APART, "bridge-thin", 1.5, (18.75, 20)),
        (WEB_1_2, "web-thin", 1.2, (0.6, 20)),
        (DUMBBELL_1_6, "neck-thin", 1.6, (20, 10)),
        (HOURGLASS_1_4, "neck-thin", 1.4, (12, 10)),
    ],
)
@pytest.mark.parametrize("turn", [0, 17, 90, 211])
def test_thin_metal_is_measured_exactly_and_found_where_it_is(
    shape: Polygon, code: str, value: float, at: tuple[float, float], turn: float
) -> None:
    finding = only(affinity.rotate(shape, turn, origin=(0, 0)))
    assert (finding.code, finding.weight, finding.limit_mm) == (code, Weight.STOP, 2.0)
    assert finding.value_mm == pytest.approx(value, abs=1e-6)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    assert finding.at == pytest.approx((at[0] * cos - at[1] * sin, at[0] * sin + at[1] * cos))
    assert f"{value:.2f} mm" in finding.message
    assert finding.mend


def test_the_same_bridge_at_two_millimetres_passes() -> None:
    shape = with_windows(SQUARE_40, box(8, 10, 18, 30), box(20, 10, 30, 30))
    assert thin(shape) == []
    assert thin(shape, limits=Limits(least_bridge_mm=2.1)) != []


def test_a_value_within_the_flattening_tolerance_of_its_limit_passes() -> None:
    assert thin(with_windows(SQUARE_40, box(8, 10, 18, 30), box(19.985, 10, 30, 30))) == []
    assert thin(with_windows(SQUARE_40, box(8, 10, 18, 30), box(19.97, 10, 30, 30))) != []


@settings(max_examples=30, deadline=None)
@given(
    st.floats(0.2, 1.9), st.floats(4, 12), st.floats(4, 12), st.floats(0, 360), st.integers(24, 200)
)
def test_the_bridge_between_two_round_windows_is_their_distance(
    gap: float, one: float, other: float, turn: float, corners: int
) -> None:
    apart = (one + other) / 2 + gap
    shape = with_windows(
        circle(0, 0, 80), circle(-apart / 2, 0, one, 360), circle(apart / 2, 0, other, 360)
    )
    finding = only(affinity.rotate(shape, turn, origin=(0, 0)))
    assert finding.code == "bridge-thin"
    assert finding.value_mm == pytest.approx(gap, abs=0.005)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.3, 1.8), st.floats(0, 360))
def test_a_ring_as_thin_all_round_is_one_web(width: float, turn: float) -> None:
    ring = with_windows(circle(0, 0, 30, 600), circle(0, 0, 30 - 2 * width, 512))
    finding = only(affinity.rotate(ring, turn))
    assert finding.code == "web-thin"
    assert finding.value_mm == pytest.approx(width, abs=0.002)


def test_an_eccentric_ring_is_thinnest_on_the_near_side() -> None:
    ring = with_windows(circle(0, 0, 30, 720), circle(0.6, 0, 27, 720))
    finding = only(ring)
    assert finding.value_mm == pytest.approx(0.9, abs=1e-4)
    assert finding.at == pytest.approx((14.55, 0), abs=0.2)


def test_two_thin_webs_of_one_window_are_two_findings() -> None:
    found = thin(with_windows(box(0, 0, 40, 40), box(1, 10, 38.5, 30)))
    assert sorted((each.code, round(each.value_mm or 0, 6)) for each in found) == [
        ("web-thin", 1.0),
        ("web-thin", 1.5),
    ]


def test_two_windows_that_touch_leave_a_bridge_of_zero() -> None:
    left, right = Polygon([(5, 15), (15, 20), (5, 25)]), Polygon([(15, 20), (25, 15), (25, 25)])
    finding = only(with_windows(SQUARE_40, left, right))
    assert (finding.code, finding.value_mm) == ("bridge-thin", 0.0)
    assert finding.at == pytest.approx((15, 20))


def test_a_window_corner_on_the_outline_leaves_a_web_of_zero() -> None:
    finding = only(with_windows(SQUARE_40, Polygon([(0, 20), (10, 15), (10, 25)])))
    assert (finding.code, finding.value_mm) == ("web-thin", 0.0)
    assert finding.at == pytest.approx((0, 20))


def test_a_tongue_inside_a_window_has_a_neck_of_its_own() -> None:
    window = box(5, 5, 35, 35).difference(box(19.5, 5, 20.5, 12)).difference(box(14, 12, 26, 24))
    finding = only(with_windows(SQUARE_40, window))
    assert finding.code == "neck-thin"
    assert finding.value_mm == pytest.approx(1.0)


def test_a_bar_between_blunt_shoulders_that_are_not_opposite() -> None:
    # the narrowest way runs aslant between two inside corners
    shape = Polygon(
        [(0, 0), (20, 0), (20, 9.4), (40, 9.4), (40, 30), (19.5, 30), (19.5, 10.6), (0, 10.6)]
    )
    finding = only(shape)
    assert finding.value_mm == pytest.approx(math.hypot(0.5, 1.2), abs=1e-6)
    assert finding.at == pytest.approx((19.75, 10.0))


# Not to be fooled


@pytest.mark.parametrize(
    "shape",
    [
        SHARP_LEAF,
        Polygon([(0, 0), (40, 0), (20, 60)]),
        Polygon([(0, 0), (40, 0), (39, 6)]),
        Polygon(
            [
                ((20 if n % 2 == 0 else 8) * math.cos(n * math.pi / 5),
                 (20 if n % 2 == 0 else 8) * math.sin(n * math.pi / 5))
                for n in range(10)
            ]
        ),
        affinity.scale(circle(0, 0, 20), 2, 1),
        box(0, 0, 30, 20).buffer(3, quad_segs=2),
        LineString([(0, 0), (20, 0)]).buffer(1.0, quad_segs=32),
    ],
)  # fmt: skip
def test_sharp_convex_corners_and_round_ends_are_not_thin_metal(shape: Polygon) -> None:
    assert thin(shape) == []


def test_short_teeth_and_battlements_are_not_necks() -> None:
    saw = [p for x in range(36, 3, -3) for p in ((x, 20), (x - 0.75, 21.2), (x - 1.5, 20))]
    wall = [
        p for x in range(36, 3, -3) for p in ((x, 20), (x, 21.2), (x - 1.5, 21.2), (x - 1.5, 20))
    ]
    for crest in (saw, wall):
        assert thin(Polygon([(0, 0), (40, 0), (40, 20), *crest, (0, 20)])) == []


def test_metal_seen_across_a_window_is_not_a_neck() -> None:
    # the outline's two sides are 2.4 mm apart at most where a slit lies between them
    shape = with_windows(box(0, 0, 40, 12), box(5, 5.5, 35, 6.5))
    assert thin(shape) == []


# Prongs, whole pieces, slots


def test_a_straight_prong_is_a_neck_and_a_tapering_one_is_told_as_a_caution() -> None:
    body = [(0, 0), (20, 0), (20, 20)]
    straight = only(Polygon([*body, (10.7, 20), (10.7, 32), (9.3, 32), (9.3, 20), (0, 20)]))
    assert straight.code == "neck-thin"
    assert straight.value_mm == pytest.approx(1.4)
    taper = only(Polygon([*body, (10.8, 20), (10.3, 32), (9.7, 32), (9.2, 20), (0, 20)]))
    assert (taper.code, taper.weight) == ("prong-thin", Weight.CAUTION)
    assert taper.value_mm == pytest.approx(1.5, abs=0.11)


@pytest.mark.parametrize(
    ("shape", "width"),
    [
        (LineString([(0, 0), (30, 0)]).buffer(0.75), 1.5),
        (affinity.scale(circle(0, 0, 2), 12, 0.6), 1.2),
        (box(0, 0, 30, 0.8), 0.8),
    ],
)
def test_a_piece_thin_all_over_is_told_once_with_its_greatest_width(
    shape: Polygon, width: float
) -> None:
    finding = only(shape)
    assert finding.weight is Weight.STOP
    assert finding.value_mm == pytest.approx(width, abs=0.01)


@pytest.mark.parametrize(("slot", "found"), [(0.2, True), (0.27, True), (0.3, False), (0.5, False)])
def test_a_slot_narrower_than_the_kerf_is_found(slot: float, found: bool) -> None:
    half = slot / 2
    shape = Polygon(
        [(0, 0), (20, 0), (20, 20), (10 + half, 20), (10 + half, 8), (10 - half, 8),
         (10 - half, 20), (0, 20)]
    )  # fmt: skip
    slots = [each for each in thin(shape) if each.code == "slot-narrow"]
    assert bool(slots) is found
    if found:
        assert slots[0].value_mm == pytest.approx(slot)
        assert slots[0].limit_mm == 0.3


def test_a_v_shaped_notch_is_no_slot() -> None:
    assert thin(Polygon([(0, 0), (20, 0), (20, 20), (12, 20), (10, 10), (8, 20), (0, 20)])) == []


# Bounds


def test_thousands_of_corners_are_checked() -> None:
    windows = [circle(x, y, 5, 300) for x in range(-30, 31, 8) for y in range(-20, 21, 8)]
    assert thin(with_windows(circle(0, 0, 90, 3000), *windows)) == []


def test_a_boundary_too_dense_to_measure_is_refused_in_words() -> None:
    corners = []
    for n in range(12_000):
        turn, reach = n * math.tau / 12_000, 1 + 0.5 * math.sin(n * math.tau * 1_000 / 12_000)
        corners.append((reach * math.cos(turn), reach * math.sin(turn)))
    found = check(drawing(Polygon(corners)), Limits())
    assert [each.code for each in found if each.weight is Weight.STOP] == ["too-detailed"]


def test_a_drawing_of_too_many_corners_is_refused_in_words() -> None:
    assert [each.code for each in check(drawing(circle(0, 0, 50, 60_000)), Limits())] == [
        "too-detailed"
    ]
