"""Layouts of a strip pressed together by a linear program: what can be counted by hand."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.placing import Job, Order, strip_parts
from studio.core.placing.compiled import warm_up
from studio.core.placing.kernels import Floats
from studio.core.placing.narrowing import FRESH, hunt_of
from studio.core.placing.shapes import Shape
from studio.core.placing.strip_forms import Ground
from studio.core.placing.strip_kernels import BEST, Strip
from studio.core.placing.strip_parts import convex_parts, parts_of
from studio.core.placing.strip_press import Press
from tests.core.placing.jobs import sheet, star

HOOK = Polygon([(0, 0), (30, 0), (30, 8), (8, 8), (8, 24), (0, 24)])
FRAME = Polygon(box(0, 0, 20, 20).exterior, [box(4, 4, 16, 16).exterior])


@pytest.mark.parametrize(
    ("outline", "most"),
    [(box(0, 0, 9, 4), 1), (HOOK, 2), (star(14, 6), 10), (FRAME, 8)],
    ids=["rectangle", "hook", "star", "frame"],
)
def test_convex_parts_fill_their_outline_without_meeting(outline: Polygon, most: int) -> None:
    parts = [Polygon(ring) for ring in convex_parts(outline)]
    assert len(parts) <= most
    for part in parts:
        assert part.exterior.is_ccw
        assert part.convex_hull.area == pytest.approx(part.area)
    assert sum(part.area for part in parts) == pytest.approx(outline.area)
    assert shapely.union_all(parts).symmetric_difference(outline).area < 1e-9 * outline.area


def test_outlines_with_too_many_corners_are_not_cut_up(monkeypatch: pytest.MonkeyPatch) -> None:
    assert parts_of([HOOK, FRAME]) is not None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 15)  # 7 + 10 coordinates
    assert parts_of([HOOK, FRAME]) is None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 10)  # 7 in the ring, 4 + 6 in its parts
    assert parts_of([HOOK]) is not None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 7)
    assert parts_of([HOOK]) is None


class Bench:
    """A strip with pieces laid where a test wants them."""

    def __init__(self, high: float, *laid: tuple[Polygon, float, float]) -> None:
        orders = [Order(str(k), outline, 1, (0.0,)) for k, (outline, _, _) in enumerate(laid)]
        job = Job((sheet(box(0, 0, 400, high)),), tuple(orders), kerf_mm=0.0, goal="strip")
        self.ground = Ground(job, [Shape(i, order, job) for i, order in enumerate(orders)])
        self.pose = np.array([self._pose(k, x, y) for k, (_, x, y) in enumerate(laid)])
        self.form = self._forms(len(laid))
        self.strip: Strip = self.ground.strip(self.form, self.pose)
        assert self.ground.parts is not None
        trial = self.ground.strip(self.form, self.pose)
        self.press = Press(self.ground.forms, self.ground.parts, trial)

    def _forms(self, count: int) -> np.ndarray:
        turned = self.ground.turned
        return np.array([turned[str(k), False][0][1] for k in range(count)], dtype=np.int64)

    def _pose(self, k: int, x: float, y: float) -> tuple[float, float]:
        form = self.ground.turned[str(k), False][0][0]
        return x + form.middle[0], y + form.middle[1]

    def laid(self, pose: Floats) -> list[Polygon]:
        forms = [self.ground.list[int(k)] for k in self.form]
        return [affinity.translate(form.outline, *at) for form, at in zip(forms, pose, strict=True)]

    def length(self, pose: Floats) -> float:
        return float(max(outline.bounds[2] for outline in self.laid(pose)))


SQUARE = box(0, 0, 10, 10)


@pytest.mark.slow
def test_a_row_of_squares_is_as_long_as_they_are() -> None:
    warm_up()
    apart = Bench(10, *((SQUARE, 10.5 * k, 0.0) for k in range(5)))
    found = apart.press.pressed(apart.strip, apart.pose, apart.form)
    assert found is not None
    assert apart.length(found) == pytest.approx(50.0, abs=1e-3)


@pytest.mark.slow
def test_an_overlap_is_shared_out_among_all_that_can_give_way() -> None:
    """Five squares of 10 in 50: the third lies 0.6 into the fourth, the gaps are elsewhere."""
    warm_up()
    at = (0.0, 10.3, 20.6, 30.0, 40.0)
    tight = Bench(10, *((SQUARE, x, 0.0) for x in at))
    found = tight.press.pressed(tight.strip, tight.pose, tight.form)
    assert found is not None
    assert tight.length(found) == pytest.approx(50.0, abs=1e-3)
    laid = tight.laid(found)
    assert max(one.intersection(two).area for one, two in pairwise(laid)) < 1e-2


@pytest.mark.slow
def test_what_cannot_be_moved_apart_in_one_step_is_left() -> None:
    warm_up()
    upon = Bench(10, (SQUARE, 0.0, 0.0), (SQUARE, 0.0, 0.0), (SQUARE, 12.0, 0.0))
    assert upon.press.pressed(upon.strip, upon.pose, upon.form) is None


@pytest.mark.slow
def test_hooks_and_stars_keep_clear_of_each_other_when_pressed() -> None:
    warm_up()
    dice = random.Random(7)
    shorter = 0
    for _ in range(30):
        outlines = [HOOK if dice.random() < 0.6 else star(14, 6) for _ in range(8)]
        laid, x = [], 0.0
        for outline in outlines:
            x0, y0, x1, y1 = outline.bounds
            laid.append((outline, x - x0, dice.uniform(0.0, 32.0 - (y1 - y0)) - y0))
            x += x1 - x0 + dice.uniform(0.0, 1.5)
        loose = Bench(32, *laid)
        loose.press.work(loose.ground.tables, loose.strip, hunt_of(8))
        now = loose.laid(loose.strip.best_pose)
        area = sum(outline.area for outline in now)
        assert shapely.union_all(now).area == pytest.approx(area, rel=1e-4)
        for outline in now:
            x0, y0, _, y1 = outline.bounds
            assert min(x0, y0, 32.0 - y1) > -1e-3
        assert loose.length(loose.strip.best_pose) == pytest.approx(
            loose.strip.bounds[BEST], abs=1e-3
        )
        shorter += bool(loose.length(loose.strip.best_pose) < loose.length(loose.pose) - 1.0)
    assert shorter == 30


@pytest.mark.slow
def test_a_failed_attempt_that_the_program_can_mend_becomes_the_best() -> None:
    warm_up()
    tight = Bench(10, *((SQUARE, 10.6 * k, 0.0) for k in range(5)))
    tight.press.last = float(tight.strip.bounds[BEST])  # the best has been pressed already
    hunt = hunt_of(5)
    tight.press.work(tight.ground.tables, tight.strip, hunt)
    assert tight.strip.bounds[BEST] == tight.press.last
    hunt.pool_pose[0] = tight.pose
    hunt.pool_pose[0, :, 0] -= 0.67 * np.arange(5)  # each 0.07 into the next
    hunt.pool_form[0] = tight.form
    hunt.mark[FRESH] = 1
    tight.press.work(tight.ground.tables, tight.strip, hunt)
    assert tight.strip.bounds[BEST] == pytest.approx(50.0, abs=1e-2)
    assert hunt.mark[FRESH] == 0


@pytest.mark.slow
def test_nothing_is_taken_over_that_still_overlaps(monkeypatch: pytest.MonkeyPatch) -> None:
    warm_up()
    loose = Bench(10, *((SQUARE, 10.6 * k, 0.0) for k in range(3)))
    wrong = loose.pose - np.array([[0.0, 0.0], [1.6, 0.0], [3.2, 0.0]])
    monkeypatch.setattr(loose.press, "pressed", lambda *_: wrong)
    before = float(loose.strip.bounds[BEST])
    loose.press.work(loose.ground.tables, loose.strip, hunt_of(3))
    assert loose.strip.bounds[BEST] == before
