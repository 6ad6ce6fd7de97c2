"""What no first plan finds a place for: five squares need 2.707 of their sides (Göbel, 1979).

Four lie in the corners and the fifth between them, turned by 45 degrees; laid one after another
along the edges, it finds no place. Slow at first: the loops are compiled once.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import Point, Polygon, box

from studio.core.cutting import Job, Plan, Stock, Wanted
from studio.core.cutting.job import Goal
from studio.core.placing import place
from studio.core.placing.strips.longer import may_be_longer
from studio.core.placing.taking_in import MOST_METALS, metals_worth
from tests.core.placing.jobs import disc, sheet, square
from tests.core.verifying.dissections import MORON_33, job_of

from .judging import judged

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("warm")]

SIDE = 27.6  # 27.08 is the least for squares of 10
FEW = 3  # rounds: two plans from nothing, then one with what they left out
NARROW = box(0, 0, SIDE, SIDE)


def squares(count: int, *metal: Polygon) -> Job:
    stock = tuple(sheet(outline, f"S{k}") for k, outline in enumerate(metal))
    return Job(stock, (Wanted("a", square(10), count),), kerf_mm=0.0)


def with_window() -> Job:
    rim = Polygon(box(0, 0, 40, 40).exterior, [box(6, 6, 6 + SIDE, 6 + SIDE).exterior])
    job = squares(5, box(0, 0, 40, 40))
    return replace(job, pieces=(Wanted("frame", rim, 1, (0.0,)), *job.pieces))


def with_round_obstacle() -> Job:
    metal = Polygon(box(0, 0, 40.2, SIDE).exterior, [Point(33.9, 13.8).buffer(6).exterior])
    return squares(5, metal)


JUST_ENOUGH = {
    "one sheet": squares(5, NARROW),
    "two sheets": squares(10, NARROW, NARROW),
    "a window": with_window(),
    "beside a round obstacle": with_round_obstacle(),
}


@pytest.mark.parametrize("name", JUST_ENOUGH)
def test_metal_that_is_just_enough_holds_every_piece(name: str) -> None:
    assert judged(JUST_ENOUGH[name], rounds=FEW).status == "complete"


def test_a_bar_that_fits_at_one_turn_is_turned_until_it_does() -> None:
    # between 12 and 12.7 degrees; alone on its metal, where nothing else may be placed
    job = Job((sheet(box(0, 0, 100, 30)),), (Wanted("bar", box(0, 0, 100.5, 8)),))
    assert judged(job, rounds=FEW).status == "complete"


def test_the_metal_that_cannot_hold_all_holds_as_many_as_it_can() -> None:
    # no two of the large ones lie side by side; by their area five would fit
    job = Job((sheet(box(0, 0, 50, 50)),), (Wanted("a", square(26), 2), Wanted("d", disc(5), 3)))
    plan = judged(job, rounds=FEW + 3)
    assert [(left.piece, left.why) for left in plan.unplaced] == [
        ("a", "no room was found for it beside the others")
    ]


def test_no_round_is_spent_on_what_is_proved_not_to_fit() -> None:
    sheets = (sheet(box(0, 0, 50, 50)),)
    large = Job(sheets, (Wanted("a", square(20)), Wanted("long", box(0, 0, 90, 1))))
    plan = judged(large, rounds=FEW)
    assert [left.piece for left in plan.unplaced] == ["long"]


@pytest.mark.parametrize(("goal", "rounds"), [("plan", FEW + 1), ("strip", 4)])
def test_a_rectangle_with_listed_turns_is_filled_from_a_longer_one(goal: Goal, rounds: int) -> None:
    # nine squares on metal a little longer than the rectangle that they fill without a gap
    width, height, sizes = MORON_33
    job = job_of(width + 1, height, sizes)
    listed = tuple(replace(wanted, turns_deg=(0.0,)) for wanted in job.pieces)
    job = replace(job, pieces=listed, goal=goal)
    assert may_be_longer(job)
    assert judged(job, rounds=rounds).status == "complete"


def test_a_plan_that_takes_in_what_was_left_can_be_made_again_on_one_thread_or_two() -> None:
    made: list[Plan] = [
        place(JUST_ENOUGH["two sheets"], rounds=FEW, seed=4, workers=w) for w in (1, 2)
    ]
    assert made[0].placements == made[1].placements
    assert made[0].status == "complete"


def test_of_very_many_stock_pieces_those_touched_and_the_largest_are_used() -> None:
    metal = tuple(Stock(f"S{k}", box(0, 0, 20 + k, 20)) for k in range(MOST_METALS + 5))
    job = Job((*metal, Stock("tiny", box(0, 0, 2, 2))), (Wanted("a", square(10)),))
    laid = place(replace(job, metal=metal[:1]), rounds=1).placements
    chosen = metals_worth(job, range(len(job.metal)), laid)
    assert chosen == [0, *range(6, MOST_METALS + 5)]
