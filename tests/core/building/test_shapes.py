"""Single shapes against plane geometry that others have worked out.

Areas: D. Zwillinger, CRC Standard Mathematical Tables and Formulae, chapter on geometry
(regular polygon, ellipse, circle segment, annulus), from memory; the lune that equals a square
is Hippocrates' (Heath, A History of Greek Mathematics, vol. 1, from memory).
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from shapely.geometry import LinearRing, Point, Polygon

from studio.core.building import RecipeError
from studio.core.building.curves import framed, moved_out, rounded
from studio.core.building.shapes import (
    crescent,
    disc,
    drop,
    ellipse,
    heart,
    polygon,
    rectangle,
    ring,
    star,
)
from studio.core.drawing import FLATTENING_TOLERANCE_MM

from .recipes import built, read


def lens(one: float, other: float, apart: float) -> float:
    """What two discs of these radii have in common (sum of two circle segments)."""
    a = math.acos((apart**2 + one**2 - other**2) / (2 * apart * one))
    b = math.acos((apart**2 + other**2 - one**2) / (2 * apart * other))
    return one**2 * (a - math.sin(2 * a) / 2) + other**2 * (b - math.sin(2 * b) / 2)


def near(area: float, outline: Any) -> bool:
    """Chords cut off less than the tolerance along the whole line."""
    return bool(abs(outline.area - area) < FLATTENING_TOLERANCE_MM * outline.length)


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 12])
def test_a_polygon_has_the_area_of_a_regular_one(sides: int) -> None:
    area = sides / 2 * 15**2 * math.sin(math.tau / sides)
    assert polygon(sides, 30).area == pytest.approx(area, rel=1e-12)


def test_curved_shapes_have_their_known_areas() -> None:
    assert near(math.pi * 10**2, disc(20))
    assert near(math.pi * 15 * 10, ellipse(30, 20))
    assert near(math.pi * (15**2 - 10**2), ring(30, 5))
    assert near(30 * 20 - (4 - math.pi) * 3**2, rectangle(30, 20, 3))


def test_a_star_has_the_area_of_its_triangles() -> None:
    assert star(5, 30, 50).area == pytest.approx(5 * 15 * 7.5 * math.sin(math.pi / 5), rel=1e-12)


def test_a_drop_is_a_disc_and_two_tangents() -> None:
    r, away = 5.0, 13.0
    area = r * math.sqrt(away**2 - r**2) + r**2 * (math.pi - math.acos(r / away))
    assert near(area, drop(10, 18))
    assert drop(10, 18).bounds[3] == 9.0


def test_a_crescent_is_a_disc_less_the_lens() -> None:
    assert near(math.pi * 15**2 - lens(15, 12, 8), crescent(30, 24, 8))


def test_the_lune_of_hippocrates_equals_its_square() -> None:
    lune = crescent(20, 20 * math.sqrt(2), 10)
    assert near(10.0**2, lune)


def test_a_vesica_is_what_two_equal_discs_share() -> None:
    """Radius r, middles r apart: (4 pi - 3 sqrt 3) r^2 / 6."""
    (piece,) = read(
        {"kind": "circle", "diameter": 20, "x": -5},
        {"kind": "circle", "diameter": 20, "x": 5, "role": "common"},
    ).pieces
    assert near((4 * math.pi - 3 * math.sqrt(3)) * 10**2 / 6, piece.outline)


def test_a_heart_is_as_wide_and_high_as_told_and_its_halves_are_alike() -> None:
    shape = heart(28, 24)
    x0, y0, x1, y1 = shape.bounds
    assert x1 - x0 == pytest.approx(28, abs=0.01)
    assert y1 - y0 == pytest.approx(24, abs=0.01)
    left = Polygon([(-x, y) for x, y in shape.exterior.coords])
    assert left.symmetric_difference(shape).area < 1e-6


@pytest.mark.parametrize("diameter", [1.0, 10.0, 60.0, 600.0])
def test_chords_stay_within_the_tolerance_of_a_circle(diameter: float) -> None:
    shape = disc(diameter)
    shortest = LinearRing(shape.exterior.coords).distance(shape.centroid)
    assert diameter / 2 - shortest < FLATTENING_TOLERANCE_MM


def test_round_corners_of_a_square_leave_out_what_they_should() -> None:
    square = rectangle(20, 20, 0)
    assert near(400 - (4 - math.pi) * 2**2, rounded(square, 2, 0))
    cross = square.union(rectangle(40, 8, 0))
    # Four inside corners each gain what a round one leaves between arc and corner.
    assert near(cross.area + (4 - math.pi) * 1**2, rounded(cross, 0, 1))


def test_a_frame_keeps_its_width_along_a_hollow_curve() -> None:
    """The inner line of a frame in a crescent stays 3 mm from the arc that was bitten out."""
    shape = crescent(40, 30, 12)
    inner = moved_out(shape, -3)
    rim = shape.boundary
    widths = [rim.distance(Point(at)) for at in inner.exterior.coords]
    assert max(abs(width - 3) for width in widths) < FLATTENING_TOLERANCE_MM
    assert framed(shape, 3).area == pytest.approx(shape.area - inner.area, abs=0.06)


@pytest.mark.parametrize(
    ("kind", "numbers"),
    [
        ("drop", {"width": 10, "length": 10}),
        ("ring", {"diameter": 10, "band": 5}),
        ("crescent", {"diameter": 10, "bite": 30, "shift": 0}),
    ],
)
def test_numbers_that_make_no_shape_are_refused_in_words(
    kind: str, numbers: dict[str, float]
) -> None:
    with pytest.raises(RecipeError) as refused:
        built({"kind": kind, **numbers})
    assert refused.value.step == "1"
    assert refused.value.mend
