"""Offcuts go back to the rack with the metal's own corners, and nothing is counted twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Cut, Hands, Job, Parting, Placement, Plan, Stock, Wanted
from studio.core.cutting.job import CutWay, Offcut
from studio.core.offcuts.proving import area_faults
from studio.core.offcuts.rack_offcuts import on_the_rack, with_rack_offcuts
from studio.core.verifying import Watch, faults, measure
from tests.core.placing.jobs import at, disc, sheet, star
from tests.core.verifying.parted.random_cuts import random_cuts

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


SHEAR = Parting("shear", margin_mm=1.0, strip_least_mm=5.0)


def parted_plan(
    places: list[tuple[float, float]],
    cuts: tuple[Cut, ...],
    outline: Polygon | MultiPolygon = SHEET,
    parting: Parting | None = SHEAR,
) -> tuple[Job, Plan]:
    job = Job(
        (Stock("S1", outline, 0.0003),),
        (Wanted("tag", TAG, count=len(places)),),
        hands=Hands(1.0, 0.5),
        worth="two",
        parting=parting,
    )
    laid = tuple(at("tag", n, x, y) for n, (x, y) in enumerate(places))
    measures, offcuts = measure(job, laid, cuts)
    plan = Plan(laid, (), measures, offcuts, 1, 0.0, 0, by_hand=True, cuts=cuts)
    return job, with_rack_offcuts(job, plan)


def test_offcuts_of_a_parted_plan_have_the_corners_of_their_own_parts() -> None:
    """A blank of 42 mm with a tag in its corner, and a leftover of 108 by 300, whole."""
    job, plan = parted_plan([(0, 0)], (Cut("S1", 0, (42, 0), (42, 300)),))
    blank, left = sorted(plan.offcuts, key=lambda offcut: offcut.outline.area)
    assert left.outline.equals(box(42, 0, 150, 300))
    # what the saw leaves of the blank beside the tag is too narrow to use: 42 − 40.3 mm
    assert blank.outline.area == pytest.approx(42 * (300 - 20.3), abs=1.0)
    assert box(0, 0, 42, 300).covers(blank.outline)
    assert list(area_faults(job, plan)) == []
    m = plan.measures
    assert m.piece_area_mm2 + m.kept_mm2 + m.scrap_mm2 == pytest.approx(SHEET.area)


def test_a_leftover_goes_back_as_the_cut_leaves_it_fingers_and_all() -> None:
    """A finger of 8 mm is too narrow by itself; on a part with a piece it is scrap, on a leftover
    nobody saws it off. Where the leftover falls apart, what is too small is scrap."""
    fingered = box(0, 0, 100, 100).union(box(100, 40, 140, 48))
    job, plan = parted_plan([], (Cut("S1", 0, (50, 0), (50, 100)),), fingered)
    areas = sorted(offcut.outline.area for offcut in plan.offcuts)
    assert areas == [pytest.approx(5000), pytest.approx(5000 + 40 * 8)]
    assert plan.measures.scrap_mm2 == pytest.approx(0, abs=1e-3)
    assert list(area_faults(job, plan)) == []

    legs = box(0, 0, 100, 100).difference(box(20, 40, 80, 100))
    _, plan = parted_plan([], (Cut("S1", 0, (0, 60), (100, 60)),), legs)
    assert sorted(round(o.outline.area) for o in plan.offcuts) == [800, 800, 100 * 60 - 60 * 20]
    less = Cut("S1", 0, (0, 75), (100, 75))  # legs of 20 by 25 are less than 600 mm²
    _, plan = parted_plan([], (less,), legs)
    assert len(plan.offcuts) == 1


def test_two_offcuts_on_one_leftover_are_one_piece_of_metal_worth_both() -> None:
    """Two halves joined by a bridge of 8 mm, through which no disc of 12 mm passes."""
    halves = box(0, 0, 60, 60).union(box(60, 26, 80, 34)).union(box(80, 0, 140, 60))
    cut = (Cut("S1", 0, (40, 0), (40, 60)),)
    job, plan = parted_plan([], cut, halves)
    judged = measure(job, [], cut)[1]
    assert (len(judged), len(plan.offcuts)) == (3, 2)
    large = max(plan.offcuts, key=lambda offcut: offcut.outline.area)
    assert large.outline.area == pytest.approx(20 * 60 + 20 * 8 + 60 * 60)
    assert sum(o.worth for o in plan.offcuts) == pytest.approx(sum(o.worth for o in judged))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from(["shear", "saw"]))
def test_areas_of_parted_plans_are_proved_whatever_the_cuts(seed: int, way: CutWay) -> None:
    chance = np.random.default_rng(seed)
    parting = Parting(way, 0.5, 1.0)
    outline = box(0, 0, 150, 300).difference(box(60, 100, 90, 140))
    everything = [(5.0, 5.0), (55.0, 5.0), (5.0, 150.0), (100.0, 250.0), (10.0, 260.0)]
    job = parted_plan(everything, (), outline, parting)[0]
    cuts = random_cuts(job, chance, int(chance.integers(0, 5)))
    wrong = {fault.copy for fault in faults(job, parted_plan(everything, cuts)[1].placements, cuts)}
    places = [place for n, place in enumerate(everything) if n not in wrong]
    job, plan = parted_plan(places, cuts, outline, parting)
    assert list(area_faults(job, plan)) == []
    assert on_the_rack(job, plan.placements, plan.measures, plan.offcuts, cuts=cuts) == (
        plan.measures,
        plan.offcuts,
    )


def test_an_offcut_over_a_cut_is_found_out_and_scrap_across_a_cut_is_not() -> None:
    cut = (Cut("S1", 0, (50, 0), (50, 300)),)
    job, plan = parted_plan([(0, 0)], cut)
    over = replace(plan, offcuts=(Offcut("S1", box(0, 21, 150, 300), 1.0),))
    assert any("beside the metal" in said for said in area_faults(job, over))
    narrow = (Cut("S1", 0, (11, 0), (11, 300)), Cut("S1", 2, (22, 0), (22, 300)))
    job, plan = parted_plan([], narrow)
    assert len(plan.offcuts) == 1  # two strips of 11 mm are no offcuts, nor are they one of 22
    assert list(area_faults(job, plan)) == []
