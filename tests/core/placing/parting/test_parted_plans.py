"""Parted plans as a user sees them: every group on a blank of its own, cut from edge to edge."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from shapely.geometry import MultiPolygon, Point, Polygon, box

from studio.core.cutting import Hands, Job, JobError, Parting, Placement, Plan, Stock, Wanted
from studio.core.placing import place
from studio.core.placing.parting.parts import Parts, width_of
from studio.core.placing.trials.proof import broken_promises
from studio.core.verifying import faults, parts_of
from tests.core.placing.jobs import disc, star
from tests.racing import CountedClock

SHEAR = Parting("shear", margin_mm=1.0, strip_least_mm=15.0)
SAW = Parting("saw", margin_mm=2.0, strip_least_mm=5.0)
HANDS = Hands(gap_mm=1.0, shared_mm=0.5)


def parted(
    pieces: tuple[Wanted, ...],
    metal: tuple[Stock, ...] = (Stock("S1", box(0, 0, 150, 100), 0.0003),),
    parting: Parting = SHEAR,
) -> Job:
    return Job(metal, pieces, hands=HANDS, edge_margin_mm=2.0, worth="two", parting=parting)


def class_of(groups: int) -> tuple[Wanted, ...]:
    return tuple(
        Wanted(f"{g}-{k}", outline, 1, group=f"seat-{g}")
        for g in range(groups)
        for k, outline in enumerate((star(12, 5), disc(7 + g % 3), box(0, 0, 22, 9)))
    )


def sound(job: Job, *, rounds: int = 2, seed: int = 1) -> Plan:
    plan = place(job, rounds=rounds, seed=seed)
    assert broken_promises(job, plan) == []
    return plan


@pytest.mark.parametrize("parting", [SHEAR, SAW], ids=["shear", "saw"])
def test_every_group_gets_one_blank_and_every_part_one_group(parting: Parting) -> None:
    job = parted(class_of(5), parting=parting)
    plan = sound(job)
    assert plan.status == "complete"
    assert sorted(str(blank.group) for blank in plan.blanks) == [f"seat-{g}" for g in range(5)]
    for blank in plan.blanks:
        parts = parts_of(job, blank.metal, plan.cuts)
        assert parts[blank.part].symmetric_difference(blank.outline).area < 1e-3
        own = [p for p in plan.placements if job.wanted_by_id[p.piece].group == blank.group]
        inner = blank.outline.buffer(1e-3)
        assert all(inner.covers(p.lay(job.wanted_by_id[p.piece].outline)) for p in own)


def test_the_same_job_seed_and_rounds_give_the_same_cuts() -> None:
    job = parted(class_of(4))
    one, other = (sound(job, rounds=3, seed=5) for _ in "ab")
    assert (one.placements, one.cuts, one.rounds) == (other.placements, other.cuts, 3)


def test_more_rounds_are_never_worse() -> None:
    job = parted(class_of(4))
    costs = [sound(job, rounds=n).measures.cost for n in (1, 2, 4)]
    assert costs == sorted(costs, reverse=True)


def test_pieces_without_a_group_are_one_group() -> None:
    pieces = (Wanted("a", box(0, 0, 20, 20), 3), Wanted("b", disc(8), 1, group="seat-1"))
    plan = sound(parted(pieces))
    assert {blank.group for blank in plan.blanks} == {None, "seat-1"}


def test_three_groups_on_a_strip_are_parted_by_two_cuts() -> None:
    # each blank is 22 high and 22 long with its margins, and so is the strip's third part
    strip = Stock("S1", box(0, 0, 66, 22), 0.0003)
    pieces = tuple(Wanted(f"p{k}", box(0, 0, 20, 20), group=f"seat-{k}") for k in range(3))
    plan = sound(parted(pieces, (strip,)))
    assert plan.status == "complete"
    assert len(plan.cuts) == 2
    assert plan.measures.cut_line_mm == pytest.approx(44.0)


def test_one_group_alone_needs_no_cut_where_nothing_is_worth_cutting_off() -> None:
    small = Stock("O1", box(0, 0, 30, 25), 0.0003)
    plan = sound(parted((Wanted("a", box(0, 0, 24, 20), group="seat-1"),), (small,)))
    assert plan.cuts == ()
    assert [(blank.part, blank.group) for blank in plan.blanks] == [(0, "seat-1")]


def test_a_shear_too_short_for_the_sheet_gives_it_whole_to_one_group() -> None:
    job = parted(class_of(2), parting=replace(SHEAR, cut_longest_mm=99.0))
    plan = sound(job)
    assert plan.cuts == ()
    assert len(plan.placements) == 3
    assert all("rest of its group" in one.why for one in plan.unplaced)
    # the sheet's shorter side is 100 mm: now both groups get a blank
    assert sound(replace(job, parting=replace(SHEAR, cut_longest_mm=100.0))).status == "complete"


def test_the_frame_of_the_saw_reaches_as_far_as_its_throat() -> None:
    square = (Stock("S1", box(0, 0, 100, 100), 0.0003),)
    pieces = tuple(Wanted(f"p{k}", box(0, 0, 90, 40), group=f"seat-{k}") for k in range(2))
    # between two plates a level cut is 43 mm and more from all edges, where it is deepest
    assert sound(parted(pieces, square, replace(SAW, throat_mm=50.0))).status == "complete"
    assert len(sound(parted(pieces, square, replace(SAW, throat_mm=40.0))).placements) == 1


def test_a_group_that_no_metal_holds_gets_blanks_of_several() -> None:
    metal = tuple(Stock(f"S{k}", box(0, 0, 60, 50), 0.0003) for k in range(2))
    plan = sound(parted((Wanted("a", box(0, 0, 50, 40), 2, group="seat-1"),), metal))
    assert plan.status == "complete"
    assert sorted(blank.metal for blank in plan.blanks) == ["S0", "S1"]


def test_offcuts_of_any_outline_are_used() -> None:
    ell = Polygon([(0, 0), (120, 0), (120, 40), (50, 40), (50, 90), (0, 90)])
    plan = sound(parted(class_of(3), (Stock("O1", ell, 0.0003),)))
    assert plan.status == "complete"
    assert len(plan.blanks) == 3


def test_turns_and_grain_are_kept_on_metal_that_lies_askew() -> None:
    askew = Polygon([(0, 0), (120, 50), (85, 134), (-35, 84)])
    metal = (Stock("O1", askew, 0.0003, grain_deg=30.0),)
    pieces = tuple(
        Wanted(f"p{k}", box(0, 0, 30, 10), 2, group=f"seat-{k}", grain_deg=0.0) for k in range(2)
    )
    plan = sound(parted(pieces, metal))
    assert plan.status == "complete"
    assert {round(p.turn_deg) % 180 for p in plan.placements} == {30}


def test_cuts_go_around_what_stands() -> None:
    stand = (
        Placement("a", 0, "S1", False, 0.0, 20.0, 20.0),
        Placement("b", 0, "S1", False, 0.0, 90.0, 60.0),
    )
    pieces = (
        Wanted("a", box(0, 0, 16, 16), 2, group="one"),
        Wanted("b", box(0, 0, 16, 16), 1, group="two"),
        Wanted("c", disc(8), 2, group="three"),
    )
    plan = sound(replace(parted(pieces), fixed=stand))
    assert plan.status == "complete"
    assert plan.placements[:2] == stand
    assert {blank.group for blank in plan.blanks} == {"one", "two", "three"}


def test_groups_that_stand_where_no_cut_parts_them_are_refused_in_words() -> None:
    # one in the hollow of the other
    ell = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 40), (0, 40)])
    job = parted((Wanted("a", ell, group="one"), Wanted("b", box(0, 0, 8, 8), group="two")))
    stand = (
        Placement("a", 0, "S1", False, 0.0, 30.0, 30.0),
        Placement("b", 0, "S1", False, 0.0, 43.0, 43.0),
    )
    with pytest.raises(JobError, match="no straight cuts part what stands on S1"):
        place(replace(job, fixed=stand), rounds=1)


def test_a_layout_to_begin_from_is_never_made_dearer() -> None:
    pieces = tuple(Wanted(f"p{k}", box(0, 0, 20, 20), group=f"seat-{k}") for k in range(3))
    strip = (Stock("S1", box(0, 0, 66, 22), 0.0003),)
    start = tuple(Placement(f"p{k}", 0, "S1", False, 0.0, 1.0 + 22.0 * k, 1.0) for k in range(3))
    job = parted(pieces, strip)
    begun = sound(replace(job, start=start), rounds=1)
    assert begun.status == "complete"
    assert begun.measures.cost <= sound(job, rounds=1).measures.cost + 1e-9


def test_a_margin_wider_than_the_metal_leaves_one_group_the_whole_piece() -> None:
    strip = (Stock("S1", box(0, 0, 110, 60), 0.0003),)
    plan = sound(parted(class_of(2), strip, replace(SHEAR, margin_mm=100.0)))
    assert plan.cuts == ()
    assert len(plan.blanks) == 1


def test_nothing_to_place_and_no_metal_are_plans_like_any_other() -> None:
    assert sound(parted(())).status == "complete"
    left = sound(parted((Wanted("a", disc(5), 2, group="seat-1"),), ())).unplaced
    assert [one.why for one in left] == ["there is no metal to place it on"] * 2


def test_a_piece_that_fits_nowhere_is_told_and_its_group_placed() -> None:
    pieces = (
        Wanted("a", box(0, 0, 20, 20), group="seat-1"),
        Wanted("huge", box(0, 0, 400, 5), group="seat-1"),
    )
    plan = sound(parted(pieces))
    assert [(one.piece, "larger than any" in one.why) for one in plan.unplaced] == [("huge", True)]
    assert len(plan.placements) == 1


def test_whoever_watches_gets_sound_plans_and_may_end_the_search() -> None:
    job = parted(class_of(4))
    seen: list[Plan] = []

    def watch(plan: Plan) -> bool:
        seen.append(plan)
        return not plan.placements

    plan = place(job, rounds=50, on_progress=watch)
    assert plan.rounds <= 2
    assert plan.placements
    assert all(not faults(job, one.placements, one.cuts) for one in seen)


def test_the_clock_ends_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    from studio.core.placing import search

    clock = CountedClock()
    monkeypatch.setattr(search, "time", clock)
    plan = place(parted(class_of(3)), seconds=40.0)
    assert clock.looks < 400
    assert len(plan.placements) + len(plan.unplaced) == 9


def test_the_width_of_a_part_is_that_of_its_narrowest_band() -> None:
    assert width_of(box(0, 0, 40, 9)) == pytest.approx(9.0)
    assert width_of(Polygon([(0, 0), (30, 0), (0, 40)])) == pytest.approx(24.0)  # 30 · 40 / 50


def test_both_sides_of_a_saw_cut_lose_half_the_kerf() -> None:
    job = parted((), parting=SAW)
    parts = Parts(job, SAW, job.metal[0])
    made = parts.cut(0, (50.0, 0.0), (0.0, 1.0))
    assert made is not None
    left, right = made
    assert (left.number, right.number) == (1, 2)
    assert left.region.bounds == pytest.approx((0, 0, 50 - job.kerf_mm / 2, 100))
    assert right.region.bounds == pytest.approx((50 + job.kerf_mm / 2, 0, 150, 100))
    assert left.region.intersects(Point(10, 10))
    assert not isinstance(left.region, MultiPolygon)
    assert parts.cut(1, (2.0, 0.0), (0.0, 1.0)) is None  # a strip of 2 mm


@pytest.mark.slow
@pytest.mark.usefixtures("warm")
def test_a_class_of_thirty_is_parted_in_time() -> None:
    metal = tuple(Stock(f"S{k}", box(0, 0, 305, 150), 0.0003) for k in range(3))
    job = parted(class_of(30), metal)
    began = time.process_time()
    plan = sound(job, rounds=6)
    assert plan.status == "complete"
    assert time.process_time() - began < 120.0
