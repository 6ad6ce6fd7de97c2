"""Offcuts go back to the rack with the metal's own corners, and nothing is counted twice."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.offcuts.rack_offcuts import on_the_rack, with_rack_offcuts
from studio.core.verifying import Watch, measure
from tests.core.placing.jobs import at, disc, sheet, star

SHEET = box(0, 0, 150, 300)
TAG = box(0, 0, 40, 20)


def plan_of(
    places: list[tuple[float, float]], outline: Polygon | MultiPolygon = SHEET
) -> tuple[Job, Plan]:
    job = Job(
        metal=(Stock("S1", outline, 0.0003),),
        pieces=(Wanted("tag", TAG, count=len(places)),),
        kerf_mm=0.3,
    )
    placements = tuple(
        Placement("tag", n, "S1", False, 0.0, x, y) for n, (x, y) in enumerate(places)
    )
    measures, offcuts = measure(job, placements)
    return job, with_rack_offcuts(job, Plan(placements, (), measures, offcuts, 1, 0.0, 0))


def test_a_sheet_keeps_its_square_corners() -> None:
    _, plan = plan_of([(0, 0)])
    (offcut,) = plan.offcuts
    for corner in ((150, 0), (150, 300), (0, 300)):
        assert offcut.outline.distance(shapely.Point(corner)) == pytest.approx(0, abs=1e-6)
    gone = box(0, 0, 40.3, 20.3)
    assert offcut.outline.area == pytest.approx(SHEET.area - gone.area, abs=0.2)


def test_a_finger_too_narrow_to_use_stays_scrap() -> None:
    """8 mm between two tags is less than the least useful width of 12 mm."""
    _, plan = plan_of([(0, 0), (48, 0), (96, 0)])
    (offcut,) = plan.offcuts
    assert offcut.outline.intersection(box(40.3, 0, 47.7, 15)).area < 1


@settings(max_examples=25)
@given(
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 12)), min_size=1, max_size=6, unique=True)
)
def test_area_is_conserved_and_offcuts_lie_clear_of_pieces_and_each_other(
    cells: list[tuple[int, int]],
) -> None:
    job, plan = plan_of([(50.0 * x, 23.0 * y) for x, y in cells])
    laid = [p.lay(TAG) for p in plan.placements]
    outlines = [o.outline for o in plan.offcuts]
    for outline in outlines:
        assert outline.is_valid
        assert all(outline.distance(piece) > job.kerf_mm - 1e-3 for piece in laid)
        assert outline.difference(SHEET).area < 1e-6
    together = sum(outline.area for outline in outlines)
    assert shapely.union_all(outlines).area == pytest.approx(together, abs=1e-3)
    m = plan.measures
    assert m.kept_mm2 == pytest.approx(together, abs=1e-6)
    assert m.piece_area_mm2 + m.kept_mm2 + m.scrap_mm2 == pytest.approx(SHEET.area, abs=1e-6)
    assert m.consumed_mm2 == pytest.approx(m.piece_area_mm2 + m.scrap_mm2, abs=1e-6)


def test_with_what_the_judge_keeps_in_mind_they_are_the_very_same() -> None:
    """After a move as from nothing: a plan told from nothing says what the table said."""
    pieces = (Wanted("tag", TAG, 4), Wanted("star", star(15, 7), 4), Wanted("dot", disc(6), 4))
    sheets = (sheet(), sheet(box(0, 0, 90, 70), "S2"))
    job = Job(sheets, pieces, hands=Hands(1.0, 0.5), worth="two", offcut_min_area_mm2=300.0)
    chance = np.random.default_rng(5)

    def somewhere(piece: str, copy: int, metal: str) -> Placement:
        x, y = chance.uniform(0, 120, 2)
        return at(piece, copy, x, y, chance.uniform(0, 360), metal)

    laid = [somewhere(one.id, copy, "S1" if copy else "S2") for one in pieces for copy in range(4)]
    watch = Watch(job)
    for _ in range(3):
        found = watch.judge(laid)
        told = on_the_rack(job, laid, found.measures, found.offcuts, watch.kept)
        assert told == on_the_rack(job, laid, *measure(job, laid))
        k = int(chance.integers(0, len(laid)))
        laid[k] = somewhere(laid[k].piece, laid[k].copy, str(chance.choice(["S1", "S2"])))


def test_two_offcuts_beside_each_other_keep_their_own_corners() -> None:
    """A row of tags parts the sheet; what is left on either side is square on all four corners."""
    places = [(60.0, 20.3 * n) for n in range(5)]
    _, plan = plan_of(places, box(0, 0, 150, 101.2))
    wide = sorted(o.outline.area for o in plan.offcuts)
    assert wide == pytest.approx([49.7 * 101.2, 59.7 * 101.2], abs=0.5)
