"""Cuts that hands move: what the parts are then, by sums that can be done in the head."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Cut, Hands, Job, Parting, Placement, Stock, Wanted
from studio.core.laying_out import parting
from studio.core.laying_out.beside import for_two_mm
from studio.core.laying_out.parting import Line, Named, NoCut
from studio.core.verifying import faults, measure, parts_of

SHEAR = Parting("shear", 1.0, 15.0)
SHEET = Stock("S1", box(0, 0, 120, 80))


def job(stock: Stock = SHEET, how: Parting = SHEAR, *pieces: Wanted) -> Job:
    wanted = pieces or (Wanted("a", box(0, 0, 10, 10), group="A"),)
    return Job((stock,), wanted, kerf_mm=0.4, hands=Hands(1.0, 0.5), parting=how)


def upright(x: float) -> Line:
    return Line((x, 0.0), 90.0)


def level(y: float) -> Line:
    return Line((0.0, y), 0.0)


def boxes(one: Job, cuts: tuple[Cut, ...]) -> dict[int, tuple[float, ...]]:
    leaves = parting.parts_on(one, "S1", cuts).leaves
    return {number: tuple(round(v, 3) for v in part.bounds) for number, part in leaves.items()}


def three() -> tuple[Cut, ...]:
    """An upright cut at 40, and the right part level at 30; of that the upper one upright at 80."""
    cuts = parting.added(job(), (), Named("S1", 0), upright(40))
    cuts = parting.added(job(), cuts, Named("S1", 2), level(30))
    return parting.added(job(), cuts, Named("S1", 3), upright(80))


def test_cuts_run_from_rim_to_rim_of_their_part() -> None:
    assert [(cut.part, cut.start, cut.end) for cut in three()] == [
        (0, (40.0, 0.0), (40.0, 80.0)),
        (2, (40.0, 30.0), (120.0, 30.0)),
        (3, (80.0, 30.0), (80.0, 80.0)),
    ]
    assert boxes(job(), three()) == {
        1: (0.0, 0.0, 40.0, 80.0),
        4: (40.0, 0.0, 120.0, 30.0),
        5: (40.0, 30.0, 80.0, 80.0),
        6: (80.0, 30.0, 120.0, 80.0),
    }
    assert faults(job(), (), three()) == ()


def test_the_cuts_behind_a_moved_one_reach_the_new_rim() -> None:
    moved = parting.shifted(job(), three(), Named("S1", 0), -10.0)  # to its right
    assert [(cut.start, cut.end) for cut in moved] == [
        ((50.0, 0.0), (50.0, 80.0)),
        ((50.0, 30.0), (120.0, 30.0)),
        ((80.0, 30.0), (80.0, 80.0)),
    ]
    assert faults(job(), (), moved) == ()


def test_a_cut_turns_about_its_middle() -> None:
    (cut,) = parting.turned(job(), three()[:1], Named("S1", 0), 90.0)
    assert (cut.start, cut.end) == ((120.0, 40.0), (0.0, 40.0))


def test_a_cut_is_taken_away_and_the_later_ones_keep_their_parts() -> None:
    two = parting.added(job(), three(), Named("S1", 1), level(50))
    without = parting.removed(two, Named("S1", 2))
    assert boxes(job(), without) == {
        4: (40.0, 0.0, 120.0, 30.0),
        3: (40.0, 30.0, 120.0, 80.0),
        5: (0.0, 50.0, 40.0, 80.0),
        6: (0.0, 0.0, 40.0, 50.0),
    }


@pytest.mark.parametrize("number", [0, 1])
def test_a_cut_whose_parts_are_cut_further_stays(number: int) -> None:
    with pytest.raises(NoCut, match="cut-further"):
        parting.removed(three(), Named("S1", number))


def test_a_part_gets_its_size_by_the_last_cut_that_bounds_it() -> None:
    sized, shifts = parting.sized(job(), three(), Named("S1", 5), 30.0, 45.0)
    assert boxes(job(), sized)[5] == (40.0, 35.0, 70.0, 80.0)
    assert [named.number for named, _mm in shifts] == [2, 1]


def test_with_the_saw_a_size_is_what_the_kerf_leaves() -> None:
    sawn = job(how=Parting("saw", 2.0, 5.0))
    cuts = parting.added(sawn, (), Named("S1", 0), upright(40))
    assert boxes(sawn, cuts)[1] == (0.0, 0.0, 39.8, 80.0)
    sized, _ = parting.sized(sawn, cuts, Named("S1", 1), 50.0, None)
    assert boxes(sawn, sized)[1] == (0.0, 0.0, 50.0, 80.0)
    assert sized[0].start[0] == pytest.approx(50.2)


@pytest.mark.parametrize(
    ("part", "wide", "high", "code"),
    [(1, None, 20.0, "no-bound"), (0, 20.0, None, "no-part"), (9, 20.0, None, "no-part")],
)
def test_what_no_cut_bounds_gets_no_size(
    part: int, wide: float | None, high: float | None, code: str
) -> None:
    with pytest.raises(NoCut, match=code):
        parting.sized(job(), three(), Named("S1", part), wide, high)


def test_a_cut_that_would_miss_its_part_is_refused() -> None:
    for line in (upright(120.0), upright(-5.0)):
        with pytest.raises(NoCut, match="misses"):
            parting.laid_at(job(), three(), Named("S1", 0), line)
    with pytest.raises(NoCut, match="no-part"):
        parting.added(job(), three(), Named("S1", 0), upright(20))
    with pytest.raises(NoCut, match="no-cut"):
        parting.shifted(job(), three(), Named("S2", 0), 1.0)


def laid(piece: str, x: float, y: float) -> Placement:
    return Placement(piece, 0, "S1", False, 0.0, x, y)


def test_what_lies_beyond_goes_along_where_it_has_room() -> None:
    pieces = [Wanted(name, box(0, 0, 10, 10), group=name) for name in "ABC"]
    one = job(SHEET, SHEAR, *pieces)
    lies = [laid("A", 2, 2), laid("B", 42, 32), laid("C", 108, 32)]
    cuts, moved = parting.taken_along(one, three(), lies, Named("S1", 0), -5.0)
    assert [cut.start[0] for cut in cuts] == [45.0, 45.0, 85.0]
    # A lies on the other side; C has 2 mm to the edge only.
    assert moved == (replace(lies[1], x_mm=47.0),)
    _, held = parting.taken_along(one, three(), lies, Named("S1", 0), -5.0, [("B", 0)])
    assert held == ()
    _, back = parting.taken_along(one, three(), lies, Named("S1", 0), 2.0)
    assert back == (replace(lies[0], x_mm=0.0),)


def test_the_parts_are_the_judges() -> None:
    """Random cuts through a ragged offcut: every part as the judge has it."""
    ragged = Polygon([(0, 0), (90, 5), (120, 0), (110, 70), (60, 55), (20, 80), (-5, 40)])
    chance = random.Random(4)
    for way in (SHEAR, Parting("saw", 2.0, 5.0)):
        one = job(Stock("S1", ragged), way)
        for _round in range(20):
            cuts: tuple[Cut, ...] = ()
            for _number in range(6):
                part = chance.choice(list(parting.parts_on(one, "S1", cuts).leaves))
                at = (chance.uniform(0, 110), chance.uniform(5, 60))
                line = Line(at, chance.choice([0.0, 90.0, chance.uniform(0, 180)]))
                try:
                    cuts = parting.added(one, cuts, Named("S1", part), line)
                except NoCut:
                    continue
            judged = {n: p for n, p in parts_of(one, "S1", cuts).items() if not p.is_empty}
            own = parting.parts_on(one, "S1", cuts).leaves
            assert set(judged) == {n for n, p in own.items() if p.area > 1e-6}
            for number, part in judged.items():
                assert own[number].symmetric_difference(part).area < 0.01


def test_a_saws_cuts_free_no_two_pieces() -> None:
    sawn = job(how=Parting("saw", 2.0, 5.0))
    cuts = parting.added(sawn, (), Named("S1", 0), upright(40))
    cuts = parting.added(sawn, cuts, Named("S1", 2), level(30))
    # 80 mm upright; then level from 40.2 mm, half a kerf of 0.4 mm beside it, to 120
    assert parting.sawn_apart_mm(sawn, cuts) == pytest.approx(80.0 + 79.8)
    assert parting.sawn_apart_mm(job(), cuts) == 0.0
    lies = [laid("a", 5, 5)]
    measures, _ = measure(sawn, lies, cuts)
    assert for_two_mm(sawn, lies, measures, cuts) == pytest.approx(0.0, abs=1e-6)
