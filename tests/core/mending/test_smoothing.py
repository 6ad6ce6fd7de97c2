"""Smoothing takes off what it says, leaves what it says, and keeps its ends."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from studio.core.mending.smoothing import smoothed, solved
from studio.core.mending.thresholds import SMOOTH_MOST_MM
from studio.core.mending.ways import Section, Way

from .hand import LEAF_TIPS, Points, closed_line, leaf, open_line, shaken


def test_the_band_solver_solves_as_a_full_one_does() -> None:
    chance = np.random.default_rng(5)
    count = 30
    bands = np.zeros((4, count))
    bands[0] = 10 + chance.random(count)
    full = np.diag(bands[0])
    for below in (1, 2, 3):
        bands[below, : count - below] = chance.normal(size=count - below)
        full += np.diag(bands[below, : count - below], -below)
        full += np.diag(bands[below, : count - below], below)
    wanted = chance.normal(size=(count, 2))
    assert solved(bands, wanted) == pytest.approx(np.linalg.solve(full, wanted), abs=1e-12)


def test_a_wobbly_leaf_comes_nearer_to_the_true_one_and_keeps_its_tips() -> None:
    true = leaf()
    way = Way(closed_line("1", shaken(true, 0.35, 7, corners=LEAF_TIPS)))
    assert len(way.sections) == 2
    outline = Way(closed_line("2", true)).line.linework
    wobbly = [each for each in way.sections if smoothed(way, each) is not None]
    assert wobbly
    for section in wobbly:
        found = smoothed(way, section)
        assert found is not None
        assert found.most_mm <= SMOOTH_MOST_MM
        ends = way.at(np.array([section.begin, section.end]))
        assert found.points[[0, -1]] == pytest.approx(ends, abs=1e-9)
        old = way.even(section)
        assert _mean_off(found.points, outline) < _mean_off(old, outline)
        assert _turning(found.points) < 0.8 * _turning(old)


def test_an_exact_curve_has_no_tremor() -> None:
    way = Way(closed_line("1", leaf()))
    assert all(smoothed(way, section) is None for section in way.sections)


def test_a_short_stretch_is_left_alone() -> None:
    x = np.linspace(0, 10, 60)
    way = Way(open_line("1", np.stack((x, 0.2 * np.sin(9 * x)), axis=1)))
    assert smoothed(way, Section(0.0, way.length)) is None


def _mean_off(points: Points, outline: shapely.LineString) -> float:
    away = shapely.distance(shapely.points(points), outline)
    return float(np.sqrt((away**2).mean()))


def _turning(points: Points) -> float:
    steps = np.diff(points, axis=0)
    angles = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    return float(np.abs(np.diff(angles)).sum())
