"""Plans that are judged whole, and random jobs for them."""

from __future__ import annotations

import pytest
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Job, Plan, Stock, Wanted
from studio.core.placing import place
from studio.core.verifying import faults, measure
from tests.core.placing.jobs import frame, ring, star, triangle, turned


def judged(job: Job, *, rounds: int = 1, seed: int = 1) -> Plan:
    """A plan after so many rounds, with everything checked that must hold for every plan."""
    plan = place(job, rounds=rounds, seed=seed)
    assert faults(job, plan.placements) == ()
    assert measure(job, plan.placements) == (plan.measures, plan.offcuts)
    wanted = {(wanted.id, copy) for wanted in job.pieces for copy in range(wanted.count)}
    placed = {(p.piece, p.copy) for p in plan.placements}
    left = {(u.piece, u.copy) for u in plan.unplaced}
    assert placed | left == wanted
    assert not placed & left
    touched = {p.metal for p in plan.placements}
    area = sum(metal.outline.area for metal in job.metal if metal.id in touched)
    figures = plan.measures
    total = figures.piece_area_mm2 + figures.kept_mm2 + figures.scrap_mm2
    assert total == pytest.approx(area, abs=1e-6)
    return plan


def shapes() -> st.SearchStrategy[Polygon]:
    size = st.floats(3, 60).map(lambda v: round(v, 2))
    return st.one_of(
        st.tuples(size, size).map(lambda s: box(0, 0, *s)),
        st.tuples(size, size).map(lambda s: triangle(*s)),
        size.map(lambda s: star(s / 2, s / 5)),
        size.map(lambda s: ring(s / 2, s / 4)),
        size.map(lambda s: frame(s + 4, s + 8, 1.5)),
        st.tuples(size, st.floats(0, 90)).map(lambda s: turned(box(0, 0, s[0], 5), s[1])),
    )


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    outlines = st.one_of(
        st.just(box(0, 0, 120, 70)),
        st.just(Polygon(box(0, 0, 90, 90).exterior, [box(40, 35, 55, 50).exterior])),
        st.just(Polygon([(0, 0), (100, 10), (80, 70), (40, 40), (0, 60)])),
        st.just(MultiPolygon([box(0, 0, 40, 40), box(60, 5, 120, 45)])),
    )
    metals = tuple(
        Stock(f"S{i}", outline, draw(st.sampled_from([0.0, 0.0003, 0.002])), draw(st.booleans()))
        for i, outline in enumerate(draw(st.lists(outlines, min_size=1, max_size=3)))
    )
    turns = st.sampled_from([None, (0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0)])
    pieces = tuple(
        Wanted(f"p{i}", outline, draw(st.integers(0, 4)), draw(turns), draw(st.booleans()))
        for i, outline in enumerate(draw(st.lists(shapes(), max_size=6)))
    )
    return Job(
        metals,
        pieces,
        kerf_mm=draw(st.sampled_from([0.0, 0.3, 1.0])),
        goal=draw(st.sampled_from(["plan", "plan", "strip"])),
    )
