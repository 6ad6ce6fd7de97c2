"""A strip with pieces laid by hand, for tests of what moves them together."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Wanted
from studio.core.placing.separating.kernels import Floats, Ints
from studio.core.placing.shapes import Shape
from studio.core.placing.strips.forms import Ground
from studio.core.placing.strips.kernels import BEST, Strip
from studio.core.placing.strips.walk import Walk
from tests.core.placing.jobs import sheet

HOOK = Polygon([(0, 0), (30, 0), (30, 8), (8, 8), (8, 24), (0, 24)])
SQUARE = box(0, 0, 10, 10)


def going_on() -> Ints:
    """What lets a search go on."""
    return np.zeros(1, dtype=np.int64)


class Bench:
    """A strip with pieces laid where a test wants them."""

    def __init__(
        self, high: float, *laid: tuple[Polygon, float, float], turns: tuple[float, ...] = (0.0,)
    ) -> None:
        self.high = high
        orders = [Wanted(str(k), outline, 1, turns) for k, (outline, _, _) in enumerate(laid)]
        job = Job((sheet(box(0, 0, 400, high)),), tuple(orders), kerf_mm=0.0, goal="strip")
        self.ground = Ground(job, [Shape(i, order, job) for i, order in enumerate(orders)])
        self.tables = self.ground.tables
        self.pose = np.array([self._pose(k, x, y) for k, (_, x, y) in enumerate(laid)])
        self.form = self._forms(len(laid))
        self.strip: Strip = self.ground.strip(self.form, self.pose)
        assert self.ground.parts is not None
        trial = self.ground.strip(self.form, self.pose)
        self.walk = Walk(self.ground.forms, self.ground.parts, trial)
        self.press = self.walk.press

    def _forms(self, count: int) -> np.ndarray:
        turned = self.ground.turned
        return np.array([turned[str(k), False][0][1] for k in range(count)], dtype=np.int64)

    def _pose(self, k: int, x: float, y: float) -> tuple[float, float]:
        form = self.ground.turned[str(k), False][0][0]
        return x + form.middle[0], y + form.middle[1]

    def laid(self, pose: Floats, form: Ints | None = None) -> list[Polygon]:
        forms = [self.ground.list[int(k)] for k in (self.form if form is None else form)]
        return [affinity.translate(form.outline, *at) for form, at in zip(forms, pose, strict=True)]

    def best(self) -> list[Polygon]:
        return self.laid(self.strip.best_pose, self.strip.best_form)

    def length(self, pose: Floats) -> float:
        return float(max(outline.bounds[2] for outline in self.laid(pose)))

    def pressed(self) -> Floats | None:
        return self.press.pressed(self.strip, going_on(), self.pose, self.form)

    def press_best(self) -> None:
        self.walk.press_best(self.tables, self.strip, going_on())

    def go(self, seed: int, budget: int) -> None:
        self.walk.go(self.tables, self.strip, going_on(), seed, budget)

    def check(self) -> None:
        """The strip's best has no overlap, lies on the metal and is as long as it says."""
        best = self.best()
        area = sum(outline.area for outline in best)
        assert shapely.union_all(best).area == pytest.approx(area, rel=1e-4)
        for outline in best:
            x0, y0, _, y1 = outline.bounds
            assert min(x0, y0, self.high - y1) > -1e-3
        right = max(outline.bounds[2] for outline in best)
        assert right == pytest.approx(self.strip.bounds[BEST], abs=1e-3)
