"""Circles and ellipses are recovered: published examples, another library, known noise."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from studio.core.mending.conics import fit_circle, fit_ellipse

from .hand import ellipse

# W. Gander, G. Golub, R. Strebel, "Least-Squares Fitting of Circles and Ellipses", BIT 34,
# 1994, section 1: six points and their geometric circle fit, to four decimals (from memory).
GANDER = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)], dtype=np.float64)


def test_the_published_six_points_have_the_published_circle() -> None:
    found = fit_circle(GANDER)
    assert found is not None
    assert (found.x_mm, found.y_mm, found.greater_mm) == pytest.approx(
        (4.7398, 2.9835, 4.7142), abs=1e-4
    )


@given(
    st.floats(-500, 500), st.floats(-500, 500), st.floats(0.5, 200), st.floats(0.35, 0.97),
    st.floats(0, 3.1),
)  # fmt: skip
def test_an_exact_ellipse_is_found_again(
    x: float, y: float, a: float, ratio: float, turn: float
) -> None:
    found = fit_ellipse(ellipse(x, y, a, a * ratio, turn, count=40))
    assert found is not None
    assert (found.x_mm, found.y_mm) == pytest.approx((x, y), abs=1e-5 * (1 + a))
    assert (found.greater_mm, found.ratio) == pytest.approx((a, ratio), rel=1e-5)
    assert abs(math.sin(found.turn_rad - turn)) < 1e-3


@pytest.mark.parametrize("seed", range(6))
def test_the_ellipse_is_that_of_another_library(seed: int) -> None:
    """OpenCV's fitEllipseDirect is an implementation of the same paper by other people."""
    chance = np.random.default_rng(seed)
    points = ellipse(3, -2, 10, 6, 0.7, count=60) + chance.normal(0, 0.2, (60, 2))
    (x, y), axes, degrees = cv2.fitEllipseDirect(points.astype(np.float32))
    found = fit_ellipse(points)
    assert found is not None
    assert (found.x_mm, found.y_mm) == pytest.approx((x, y), abs=2e-3)
    assert (found.lesser_mm, found.greater_mm) == pytest.approx(
        sorted(a / 2 for a in axes), abs=2e-3
    )
    longer = math.radians(degrees if axes[0] > axes[1] else degrees + 90)
    assert abs(math.sin(found.turn_rad - longer)) < 2e-3


@pytest.mark.parametrize("seed", range(6))
def test_a_noisy_circle_is_found_to_within_its_noise(seed: int) -> None:
    chance = np.random.default_rng(seed)
    points = ellipse(20, 30, 12, 12, count=200) + chance.normal(0, 0.2, (200, 2))
    found = fit_circle(points)
    assert found is not None
    # 200 points of 0.2 mm: centre and radius to 0.2 * sqrt(2 / 200) = 0.02 mm; four times that.
    assert (found.x_mm, found.y_mm, found.greater_mm) == pytest.approx((20, 30, 12), abs=0.08)


def test_points_on_a_line_have_no_circle_and_no_ellipse() -> None:
    line = np.stack((np.arange(20.0), 2 * np.arange(20.0)), axis=1)
    assert fit_circle(line) is None
    assert fit_ellipse(line) is None
    assert fit_circle(np.zeros((5, 2))) is None
    assert fit_ellipse(np.zeros((9, 2))) is None


def test_distances_from_an_ellipse_are_right_near_it() -> None:
    found = fit_ellipse(ellipse(0, 0, 18, 11, 0.4, count=100))
    assert found is not None
    # Along the axes the nearest point of an ellipse is its end, so the distance is known.
    c, s = math.cos(0.4), math.sin(0.4)
    outside = np.array([(18.3 * c, 18.3 * s), (-10.8 * s, 10.8 * c)])
    assert found.off(outside) == pytest.approx([0.3, -0.2], abs=0.005)
    drawn = found.outline(0.005)
    assert Polygon(drawn).area == pytest.approx(math.pi * 18 * 11, rel=1e-9)
