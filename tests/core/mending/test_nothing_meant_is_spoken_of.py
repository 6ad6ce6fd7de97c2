"""Advice that nobody needs is worse than none: what is exact or meant gets no word."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from studio.core.drawing import Limits
from studio.core.mending import mends
from studio.core.reading import read_pattern

from .hand import LEAF_TIPS, Points, ellipse, leaf, polygon, shaken, tracing

RECTANGLE = [(0.0, 0.0), (40.0, 0.0), (40.0, 25.0), (0.0, 25.0)]
LEANING = [(0.0, 0.0), (40.0, 0.0), (46.7, 25.0), (6.7, 25.0)]  # corners of 75 degrees
TAPERING = [(0.0, 0.0), (40.0, 2.5), (40.0, 22.5), (0.0, 25.0)]


def codes(*shapes: Points | Sequence[tuple[float, float]], kind: str = "scan") -> set[str]:
    return {mend.code for mend in mends(tracing(*shapes, kind=kind), {}, Limits())}


def with_side(y: Points) -> Points:
    """The rectangle whose lower side runs through these heights instead."""
    x = np.linspace(0, 40, len(y))
    return np.vstack((np.stack((x, y), axis=1)[:-1], polygon(RECTANGLE)[80:]))


def lobed(count: int, share: float = 0.03) -> Points:
    t = np.linspace(0, math.tau, 400, endpoint=False)
    radius = 15 * (1 + share * np.cos(count * t))
    return np.stack((20 + radius * np.cos(t), 20 + radius * np.sin(t)), axis=1)


def regular(sides: int) -> Points:
    turn = np.arange(sides) * math.tau / sides
    return polygon([(20 + 15 * math.cos(t), 20 + 15 * math.sin(t)) for t in turn])


@pytest.mark.parametrize("kind", ["scan", "svg", "dxf"])
@pytest.mark.parametrize(
    "shape",
    [
        polygon(RECTANGLE), polygon(LEANING), polygon(TAPERING), ellipse(20, 20, 15, 15),
        ellipse(20, 20, 18, 11, 0.4), ellipse(20, 20, 15, 14.6), leaf(), leaf(1.4),
        *(regular(sides) for sides in (3, 5, 6, 7, 8, 10)),
    ],
)  # fmt: skip
def test_exact_shapes_get_no_advice(kind: str, shape: Points) -> None:
    assert codes(shape, kind=kind) == set()


@pytest.mark.parametrize("rise_mm", [0.4, 0.6, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("kind", ["scan", "svg"])
def test_a_gentle_arc_is_meant(rise_mm: float, kind: str) -> None:
    x = np.linspace(0, 1, 81)
    assert codes(with_side(-4 * rise_mm * x * (1 - x)), kind=kind) == set()


@pytest.mark.parametrize(("height", "waves"), [(0.3, 8), (0.5, 10), (0.4, 5), (0.2, 12)])
def test_an_even_wave_along_a_side_is_an_ornament(height: float, waves: int) -> None:
    x = np.linspace(0, 1, 321)
    assert codes(with_side(height * np.sin(math.tau * waves * x))) == set()


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8, 12])
def test_petals_eggs_and_scallops_are_no_failed_circles(count: int) -> None:
    assert codes(lobed(count)) == set()


@pytest.mark.parametrize("seed", range(4))
def test_a_shaken_tag_that_tapers_is_straightened_at_most(seed: int) -> None:
    drawn = shaken(polygon(TAPERING), 0.3, seed, corners=np.array(TAPERING))
    assert codes(drawn) <= {"straight"}
    drawn = shaken(polygon(LEANING), 0.3, seed, corners=np.array(LEANING))
    assert codes(drawn) <= {"straight"}


def test_corners_and_sides_of_a_drawing_program_are_meant_as_they_are() -> None:
    skewed = [(0.0, 0.0), (40.0, 0.9), (39.3, 25.0), (-0.3, 25.2)]
    assert "square" in codes(polygon(skewed))
    assert codes(polygon(skewed), kind="svg") == set()


def test_a_fish_is_not_asked_to_be_symmetric() -> None:
    assert codes(leaf(1.35)) == set()
    assert "symmetric" in codes(leaf(1.05))


def test_what_is_left_out_or_drilled_gets_no_advice() -> None:
    drawn = shaken(ellipse(20, 20, 15, 15), 0.4, 3)
    assert mends(tracing(drawn), {"1": "ignore"}, Limits()) == ()
    hole = shaken(ellipse(20, 20, 1.5, 1.5), 0.1, 3)
    found = mends(tracing(polygon([(0, 0), (40, 0), (40, 40), (0, 40)]), hole), {}, Limits())
    assert found == ()


def test_a_file_of_exact_curves_is_silent_from_end_to_end() -> None:
    data = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">'
        b'<g fill="none" stroke="black"><path d="M5 30C15 2 45 8 55 30C45 55 15 50 5 30Z"/>'
        b'<path d="M20 25q6 -4 12 0t12 0l-3 10q-9 3 -18 0z"/>'
        b'<path d="M60 10L85 11L84 40A12 12 0 0 1 61 40Z"/><circle cx="72" cy="25" r="6"/>'
        b'<ellipse cx="72" cy="38" rx="5" ry="4.8"/></g></svg>'
    )
    assert mends(read_pattern(data, filename="a.svg"), {}, Limits()) == ()


def test_the_tips_of_a_leaf_stay_where_they_are_when_it_is_smoothed() -> None:
    drawn = shaken(leaf(), 0.35, 7, corners=LEAF_TIPS)
    (mend,) = [each for each in mends(tracing(drawn), {}, Limits()) if each.code == "smooth"]
    after = np.array(mend.after[0].points)
    for tip in LEAF_TIPS:
        assert np.hypot(*(after - tip).T).min() < 0.05


@pytest.mark.parametrize("sides", [12, 14, 16])
@pytest.mark.parametrize("seed", range(4))
def test_corners_of_many_sides_are_not_smoothed_away(sides: int, seed: int) -> None:
    drawn = regular(sides) * 4 / 3  # 40 mm across
    assert codes(shaken(drawn, 0.15, seed)).isdisjoint({"smooth", "circle"})


@pytest.mark.parametrize("seed", range(4))
def test_a_shaken_circle_is_no_polygon(seed: int) -> None:
    assert "circle" in codes(shaken(ellipse(30, 30, 20, 20), 0.4, seed))
