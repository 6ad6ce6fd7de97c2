"""Strips: drawn in by our own search on tables, with the library's answer where it is there.

Slow at first: the loops are compiled once, and kept where the cache can be written.
"""

from __future__ import annotations

import math
import random
import time

import pytest
from shapely import affinity
from shapely.geometry import Polygon, box

from studio.core.placing import Job, Metal, Order, place, strip_library, strips
from studio.core.placing.compiled import warm_up
from studio.core.placing.shapes import Shape
from studio.core.placing.strip_forms import Ground, fits_tables
from studio.core.placing.strip_kernels import pair_loss
from studio.core.verifying import faults
from tests.core.placing.jobs import disc, sheet, square, star, triangle
from tests.core.placing.test_place import judged
from tests.core.verifying.dissections import MORON_33, job_of

QUARTERS = (0.0, 90.0, 180.0, 270.0)
HOOK = Polygon([(0, 0), (30, 0), (30, 8), (8, 8), (8, 24), (0, 24)])


def strip(*orders: Order, kerf: float = 0.0, metal: Metal | None = None) -> Job:
    return Job((metal or sheet(box(0, 0, 400, 60)),), orders, kerf_mm=kerf, goal="strip")


def test_only_a_rectangle_with_listed_turns_is_searched_on_tables() -> None:
    listed, free = Order("a", HOOK, 2, QUARTERS), Order("b", HOOK)
    assert fits_tables(strip(listed))
    assert not fits_tables(strip(listed, free))
    assert not fits_tables(strip(listed, metal=sheet(disc(50))))
    assert not fits_tables(Job((sheet(),), (listed,)))


@pytest.mark.slow
def test_tables_never_differ_from_exact_geometry_however_often_they_are_asked() -> None:
    warm_up()
    orders = [Order("h", HOOK, 1, QUARTERS), Order("s", star(14, 6), 1, (0.0, 30.0))]
    job = strip(*orders, Order("t", triangle(20, 12), 1, (0.0, 180.0)))
    ground = Ground(job, [Shape(i, order, job) for i, order in enumerate(job.pieces)])
    forms, tables = ground.forms, ground.tables
    outlines = [form.outline for form in ground.list]
    dice = random.Random(5)
    for _ in range(6_000):
        u, v = dice.randrange(len(outlines)), dice.randrange(len(outlines))
        a, b = outlines[u], outlines[v]
        dx = dice.uniform(b.bounds[0] - a.bounds[2], b.bounds[2] - a.bounds[0])
        dy = dice.uniform(b.bounds[1] - a.bounds[3], b.bounds[3] - a.bounds[1])
        shared = affinity.translate(a, dx, dy).intersection(b)
        thick = shared.area / max(shared.length, 1e-9)
        for _ in range(6):  # exactly at first, then from the table
            loss = pair_loss(
                forms.form,
                forms.extent,
                forms.moving,
                forms.solid,
                forms.poles,
                tables.number,
                tables.twist,
                tables.forms,
                tables.origin,
                tables.cells,
                u,
                v,
                dx,
                dy,
            )
            if thick > 0.002:
                assert loss > 0.0
            elif shared.area == 0.0:
                assert loss == 0.0


@pytest.mark.slow
def test_morons_rectangle_is_nearly_filled_and_made_again_by_its_rounds() -> None:
    warm_up()
    width, height, sizes = MORON_33
    job = job_of(3 * width, height, sizes)
    job = strip(
        *(Order(o.id, o.outline, o.count, (0.0,)) for o in job.pieces),
        metal=Metal("S1", box(0, 0, 3 * width, height)),
    )
    plan = judged(job, rounds=40, seconds=300.0)
    # its perfect packing is the bound: Moroń 1925; a tolerance on both sides
    assert width - 1e-2 <= plan.measures.strip_length_mm <= 1.1 * width
    again = place(job, rounds=40, seconds=300.0, workers=2)
    assert again.placements == plan.placements


@pytest.mark.slow
@pytest.mark.parametrize("kerf", [0.0, 0.4])
def test_a_strip_with_kerf_mirrors_and_rough_edges_has_no_fault(kerf: float) -> None:
    warm_up()
    rough = Metal("S1", box(10, 5, 410, 65), clean_edges=False)
    job = strip(
        Order("h", HOOK, 8, QUARTERS, may_mirror=True),
        Order("s", star(12, 5), 6, (0.0, 36.0)),
        Order("q", square(9), 7, (0.0,)),
        kerf=kerf,
        metal=rough,
    )
    plan = judged(job, rounds=12, seconds=300.0)
    assert plan.status == "complete"


@pytest.mark.slow
@pytest.mark.parametrize("kerf", [0.0, 0.5])
def test_what_the_library_answers_fits_the_strip_and_keeps_the_kerf(kerf: float) -> None:
    job = strip(Order("h", HOOK, 6, QUARTERS), Order("q", square(9), 5, (0.0,)), kerf=kerf)
    shapes = [Shape(i, order, job) for i, order in enumerate(job.pieces)]
    library = strip_library.Library(job, shapes, seconds=2.0, seed=1, workers=1)
    try:
        until = time.monotonic() + 60.0
        while library.at_work and time.monotonic() < until:
            time.sleep(0.05)
    finally:
        library.end()
    found = library.newest()
    assert found is not None
    placements, length = found
    # its own numbers are single precision: what it leaves of overlap is moved apart afterwards
    grave = [f for f in faults(job, placements) if f.code not in {"too-near-piece"}]
    assert len(placements) == job.copies
    assert grave == []
    right = max(p.lay(job.order_by_id[p.piece].outline).bounds[2] for p in placements)
    assert 0.9 * length <= right <= length + 0.01


@pytest.mark.slow
def test_a_strip_with_seconds_enough_for_the_library_is_complete_and_judged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    warm_up()
    monkeypatch.setattr(strips, "LIBRARY_FROM_SECONDS", 1.0)
    job = strip(Order("h", HOOK, 10, QUARTERS), Order("t", triangle(20, 12), 10, (0.0, 180.0)))
    plan = place(job, seconds=8.0, workers=2)
    assert faults(job, plan.placements) == ()
    area = sum(order.outline.area * order.count for order in job.pieces)
    assert area / 60.0 <= plan.measures.strip_length_mm <= 1.35 * area / 60.0
    assert math.isfinite(plan.measures.cost)
