"""What one step of a walk over a strip changes at first."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import box

from studio.core.cutting import Job, Wanted
from studio.core.placing.separating.conflicts import total_loss
from studio.core.placing.shapes import Shape
from studio.core.placing.strips import leaps as steps
from studio.core.placing.strips.drawing_in import hunt_of
from studio.core.placing.strips.forms import Ground
from studio.core.placing.strips.kernels import BEST, EVALUATIONS, LEFT, LINE
from studio.core.placing.strips.moves import lay_all
from studio.core.placing.warming import warm_up
from tests.core.placing.jobs import sheet, star
from tests.core.placing.strips.strip_benchmark import HOOK, SQUARE, Bench, going_on


def bench() -> Bench:
    """Two hooks, two stars and two squares, no two alike, in a row, far from each other."""
    outlines = [HOOK, star(14, 6), SQUARE]
    outlines += [affinity.scale(outline, 0.9, 0.9, origin=(0, 0)) for outline in outlines]
    return Bench(60, *((o, 20.0 + 45.0 * k, 20.0) for k, o in enumerate(outlines)), turns=(0, 90))


def changed(kind: int, seed: int) -> tuple[Bench, list[int]]:
    """A bench with one change made, and which pieces lie elsewhere or otherwise than before."""
    row = bench()
    seeded(seed)
    steps.change(row.ground.forms, row.tables, row.strip, hunt_of(6), kind)
    moved = np.abs(row.strip.pose - row.pose).max(axis=1) > 1e-9
    return row, [int(k) for k in np.flatnonzero(moved | (row.strip.form != row.form))]


def seeded(seed: int) -> None:
    """A compiled loop draws its lots from its own source: one short step sets that."""
    other = Bench(20, (SQUARE, 0.0, 0.0))
    args = other.ground.forms, other.tables, other.strip, hunt_of(1), going_on()
    steps.step(*args, seed, steps.TURNED, 1e9)


@pytest.mark.slow
@pytest.mark.parametrize("kind", [steps.LARGE, steps.ANY, steps.NEAR])
def test_two_pieces_change_places(kind: int) -> None:
    warm_up()
    for seed in range(8):
        row, moved = changed(kind, seed)
        assert len(moved) == 2
        before, after = row.laid(row.pose), row.laid(row.strip.pose, row.strip.form)
        for one, other in (moved, moved[::-1]):
            gap = after[one].envelope.centroid.distance(before[other].envelope.centroid)
            assert gap < 1e-6


@pytest.mark.slow
def test_pieces_of_one_shape_never_change_places() -> None:
    warm_up()
    twins = Wanted("h", HOOK, 3, (0.0,))
    job = Job((sheet(box(0, 0, 400, 60)),), (twins,), kerf_mm=0.0, goal="strip")
    ground = Ground(job, [Shape(0, twins, job)])
    pose = np.array([[20.0, 20.0], [60.0, 20.0], [100.0, 20.0]])
    strip = ground.strip(np.zeros(3, dtype=np.int64), pose)
    for kind in (steps.LARGE, steps.ANY, steps.NEAR):
        steps.change(ground.forms, ground.tables, strip, hunt_of(3), kind)
        assert strip.pose.tolist() == pose.tolist()


@pytest.mark.slow
def test_large_pieces_are_changed_over_where_there_are_any() -> None:
    warm_up()
    for seed in range(8):
        _, moved = changed(steps.LARGE, seed)
        assert all(k % 3 != 2 for k in moved)  # never a square


@pytest.mark.slow
def test_one_piece_is_turned_where_it_lies_or_laid_anywhere() -> None:
    warm_up()
    for seed in range(8):
        row, moved = changed(steps.TURNED, seed)
        assert len(moved) == 1
        (a,) = moved
        if a % 3 != 2:  # a square looks the same at a quarter turn, and is laid elsewhere
            assert row.strip.form[a] != row.form[a]
            assert row.strip.pose[a].tolist() == row.pose[a].tolist()
        row, moved = changed(steps.ANYWHERE, seed)
        assert len(moved) == 1


@pytest.mark.slow
def test_the_line_is_drawn_in() -> None:
    warm_up()
    row, _ = changed(steps.DRAWN, 1)
    best, left = float(row.strip.bounds[BEST]), float(row.strip.bounds[LEFT])
    assert row.strip.bounds[LINE] == pytest.approx(best - steps.DOWN * (best - left))


@pytest.mark.slow
@pytest.mark.parametrize(("length", "apart"), [(19.0, False), (20.5, True)])
def test_a_step_ends_with_the_least_overlap_it_has_seen(length: float, apart: bool) -> None:
    """Two squares of 10 in 19 overlap for good; in 20.5 they can lie side by side."""
    warm_up()
    losses = []
    for seed in range(5):
        row = Bench(10, (SQUARE, 0.0, 0.0), (SQUARE, length - 10.0, 0.0))
        forms, tables, strip, hunt = row.ground.forms, row.tables, row.strip, hunt_of(2)
        strip.bounds[BEST] = length
        loss = steps.step(forms, tables, strip, hunt, going_on(), seed, steps.ANYWHERE, 1e9)
        strip.pose[:], strip.form[:] = hunt.pose, hunt.form
        lay_all(forms, tables, strip)
        assert total_loss(strip) == pytest.approx(loss)
        losses.append(loss)
    assert (min(losses) <= 0.0) is apart


@pytest.mark.slow
def test_a_step_with_much_left_after_a_few_passes_is_given_up() -> None:
    """Two squares of 10 in 12 never come apart: how long that is tried is for `small` to say."""
    warm_up()
    spent = []
    for small in (1e9, 1e-6):
        row = Bench(10, (SQUARE, 0.0, 0.0), (SQUARE, 2.0, 0.0))
        args = row.ground.forms, row.tables, row.strip, hunt_of(2), going_on()
        assert steps.step(*args, 1, steps.ANYWHERE, small) > 0.0
        spent.append(int(row.strip.tally[EVALUATIONS]))
    assert spent[1] < spent[0]
