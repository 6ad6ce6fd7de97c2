"""The judge's compiled loop gives what the plain one gives, to the last digit."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from studio.core.cutting import Hands, Placement
from studio.core.verifying import Watch, faults, largest_rectangle, measure, warm_up, warming
from studio.core.verifying.cuts import BEYOND_CELLS, ONE_CUT_MM, _running_near
from studio.core.verifying.sides import sides_of
from tests.core.placing.jobs import class_job


@pytest.fixture(scope="module", autouse=True)
def judge_warm() -> None:
    warm_up()


@pytest.fixture
def cold(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """Within it a process that has compiled nothing."""
    with monkeypatch.context() as patch:
        patch.setattr(warming, "_loops", [])
        yield patch


def told(polygon: Polygon) -> tuple[float, float, bytes]:
    found = largest_rectangle(polygon)
    return found.longer_mm, found.shorter_mm, found.polygon.wkb


def areas(count: int) -> Iterator[Polygon]:
    """Stars, bars and bars at an angle, with round and square windows and bays."""
    chance = np.random.default_rng(3)
    for _ in range(count):
        corners = int(chance.integers(3, 60))
        angle, far = np.sort(chance.uniform(0, 2 * np.pi, corners)), chance.uniform(5, 80, corners)
        bar = box(0, 0, *chance.uniform(20, 300, 2))
        area: BaseGeometry = (
            Polygon(np.column_stack([far * np.cos(angle), far * np.sin(angle)])).buffer(0),
            bar,
            affinity.rotate(bar, float(chance.choice([5.0, 30.0, 45.0, 17.3]))),
        )[int(chance.integers(3))]
        x0, y0, x1, y1 = area.bounds
        for _ in range(int(chance.integers(0, 8))):
            x, y, size = chance.uniform(x0, x1), chance.uniform(y0, y1), chance.uniform(1, 15)
            disc = Point(x, y).buffer(size, quad_segs=int(chance.integers(1, 12)))
            area = area.difference(disc if chance.random() < 0.6 else box(x, y, x + size, y + 9))
        parts = list(area.geoms) if isinstance(area, MultiPolygon) else [area]
        yield max((p for p in parts if isinstance(p, Polygon)), key=lambda p: p.area)


def same_of(count: int, cold: pytest.MonkeyPatch) -> None:
    polygons = list(areas(count))
    plain = [told(polygon) for polygon in polygons]
    assert warming.warm_loops() is None
    cold.undo()
    assert warming.warm_loops() is not None
    assert [told(polygon) for polygon in polygons] == plain


def test_the_largest_rectangle_is_the_same(cold: pytest.MonkeyPatch) -> None:
    same_of(8, cold)


@pytest.mark.slow
def test_the_largest_rectangle_is_the_same_in_hundreds(cold: pytest.MonkeyPatch) -> None:
    same_of(600, cold)


def test_a_watch_that_was_cold_at_first_goes_on_with_the_same_figures(
    cold: pytest.MonkeyPatch,
) -> None:
    job = replace(class_job(), hands=Hands(gap_mm=1.0, shared_mm=0.5), worth="two")
    laid = [Placement("tag", k, "S1", False, 0.0, 50.0 * k, 3.0) for k in range(2)]
    watch = Watch(job)
    before = watch.judge(laid)
    cold.undo()
    assert (before.faults, before.measures) == (faults(job, laid), measure(job, laid)[0])
    laid[1] = replace(laid[1], x_mm=61.0)
    after = watch.judge(laid)
    assert (after.measures, after.offcuts) == measure(job, laid)


def test_warming_up_aside_does_not_wait(cold: pytest.MonkeyPatch) -> None:
    cold.setattr(warming, "_helper", None)
    let_go = threading.Event()
    cold.setattr(warming, "warm_up", let_go.wait)
    warming.warm_up_aside()
    helper = warming._helper
    assert helper is not None
    warming.warm_up_aside()
    assert warming._helper is helper
    let_go.set()
    helper.join()


def test_what_runs_near_another_piece_lies_within_reach_of_it() -> None:
    chance = np.random.default_rng(8)
    reach = BEYOND_CELLS * ONE_CUT_MM
    for _ in range(12):
        round_one = Point(0, 0).buffer(10.0, quad_segs=int(chance.integers(3, 9)))
        other = affinity.rotate(round_one, chance.uniform(0, 90))
        away = chance.uniform(0, 2 * np.pi)
        for gap in (1.4, 1.6, 1.7):
            step = 20.0 + gap
            there = affinity.translate(other, step * np.cos(away), step * np.sin(away))
            near = _running_near(sides_of(round_one, 3.0), sides_of(there, 3.0))
            assert not near or round_one.distance(there) <= reach
