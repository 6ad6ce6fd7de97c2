"""What a user relies on when pieces are placed: valid plans, tight fits, the traps."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Job, Plan, Stock, Wanted
from studio.core.placing import WITHOUT_COMPILING, place, search
from studio.core.placing.too_large import TooLarge
from studio.core.verifying import faults
from tests.core.placing.jobs import (
    class_job,
    disc,
    frame,
    ring,
    sheet,
    spoon,
    square,
    star,
    triangle,
)
from tests.racing import CountedClock

from .judging import jobs, judged


def test_a_class_job_is_placed_whole_on_offcut_and_sheet() -> None:
    plan = judged(class_job())
    assert plan.status == "complete"
    assert len(plan.placements) == 40


def test_the_same_job_seed_and_rounds_give_the_same_plan() -> None:
    job = class_job()
    one, other = judged(job, rounds=3, seed=5), judged(job, rounds=3, seed=5)
    assert one.rounds == other.rounds == 3
    assert one.placements == other.placements


def test_a_plan_made_without_the_compiled_search_can_be_made_again() -> None:
    job = class_job()
    plain = judged(job, rounds=1_000_010, seed=4)
    assert plain.rounds == 1_000_010
    assert judged(job, rounds=plain.rounds, seed=4).placements == plain.placements
    assert plain.measures.cost <= judged(job, rounds=6, seed=4).measures.cost


def test_more_rounds_are_never_worse() -> None:
    job = class_job()
    costs = [judged(job, rounds=n).measures.cost for n in (1, 2, 4)]
    assert costs == sorted(costs, reverse=True)


def test_nothing_to_place_is_a_complete_plan() -> None:
    plan = judged(Job((sheet(),), ()))
    assert plan.status == "complete"
    assert plan.placements == ()
    assert plan.measures.cost == 0.0


def test_no_metal_leaves_every_piece_with_the_reason() -> None:
    plan = judged(Job((), (Wanted("a", square(20), 2),)))
    assert plan.status == "partial"
    assert [u.why for u in plan.unplaced] == ["there is no metal to place it on"] * 2


def test_a_piece_larger_than_all_metal_is_named_and_the_rest_is_placed() -> None:
    job = Job((sheet(),), (Wanted("huge", box(0, 0, 400, 20)), Wanted("a", square(20), 3)))
    plan = judged(job)
    assert [(u.piece, "larger than any metal" in u.why) for u in plan.unplaced] == [("huge", True)]
    assert len(plan.placements) == 3


WHY_LEFT: dict[str, tuple[Wanted, str]] = {
    "two that cannot lie side by side": (Wanted("a", square(30), 2), "no room was found"),
    "two that are larger together": (Wanted("a", square(40), 2), "together are larger"),
    "one that is too long": (Wanted("a", box(0, 0, 80, 1)), "larger than any metal"),
    "one that is too wide at every turn": (Wanted("a", box(0, 0, 56, 16)), "larger than any"),
}


@pytest.mark.parametrize("name", WHY_LEFT)
def test_a_reason_says_what_was_found_or_what_is_proved(name: str) -> None:
    wanted, why = WHY_LEFT[name]
    plan = judged(Job((sheet(box(0, 0, 50, 50)),), (wanted,)))
    assert [why in left.why for left in plan.unplaced] == [True]


def test_a_piece_that_fits_at_one_turn_only_is_not_called_too_large() -> None:
    # between 12 and 12.7 degrees, which no plain way to lay it tries
    plan = judged(Job((sheet(box(0, 0, 100, 30)),), (Wanted("a", box(0, 0, 100.5, 8)),)))
    assert [left.why for left in plan.unplaced] == ["no place was found for it"]


def test_a_piece_is_called_too_large_only_where_it_is_proved() -> None:
    ell = sheet(Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)]))
    fits = {
        "the metal itself": Wanted("a", box(0, 0, 100, 40)),
        "along the diagonal": Wanted("b", box(0, 0, 120, 1)),
        "in the leg": Wanted("c", square(40), 1, (90.0,)),
    }
    large = {
        "wider than a leg": Wanted("d", square(41), 1, (0.0,)),
        "as wide as a circle in the corner": Wanted("e", disc(24)),
        "longer than the diagonal": Wanted("f", box(0, 0, 142, 1)),
    }
    job = Job((ell,), (*fits.values(), *large.values()))
    proof = TooLarge(job)
    assert {name: proof.proved(wanted) for name, wanted in fits.items()} == dict.fromkeys(
        fits, False
    )
    assert {name: proof.proved(wanted) for name, wanted in large.items()} == dict.fromkeys(
        large, True
    )


def test_a_piece_whose_grain_no_metal_has_is_not_called_too_large() -> None:
    metal = replace(sheet(), grain_deg=0.0)
    plan = judged(Job((metal,), (Wanted("a", square(20), 1, (0.0,), grain_deg=45.0),)))
    assert ["at any turn" in left.why for left in plan.unplaced] == [True]


def test_a_piece_exactly_as_wide_as_the_metal_is_placed() -> None:
    job = Job((sheet(box(0, 0, 200, 50)),), (Wanted("a", box(0, 0, 30, 50), 3),))
    plan = judged(job)
    assert plan.status == "complete"
    # three in a row with one kerf between: only the two shared lines and one end are sawn
    assert plan.measures.saw_line_mm == pytest.approx(150.0)


def test_a_piece_exactly_as_large_as_the_metal_is_placed_and_needs_no_saw() -> None:
    plan = judged(Job((sheet(box(0, 0, 80, 50)),), (Wanted("a", box(0, 0, 50, 80)),)))
    assert plan.status == "complete"
    assert plan.measures.saw_line_mm == pytest.approx(0.0, abs=1e-6)


def test_a_piece_that_fits_only_in_anothers_window_goes_there() -> None:
    job = Job(
        (sheet(box(0, 0, 60, 60)),), (Wanted("frame", frame(60, 60, 8)), Wanted("in", square(43)))
    )
    assert judged(job).status == "complete"


def test_a_piece_that_fits_a_window_exactly_goes_there() -> None:
    job = Job(
        (sheet(box(0, 0, 60, 60)),), (Wanted("frame", frame(60, 60, 8)), Wanted("in", square(43.4)))
    )
    plan = judged(job)
    assert plan.status == "complete"
    assert plan.measures.shared_line_mm == pytest.approx(4 * 43.4, abs=0.1)


def test_a_round_piece_that_fits_only_in_a_round_window_goes_there() -> None:
    job = Job(
        (sheet(box(0, 0, 50, 50)),), (Wanted("ring", ring(25, 18)), Wanted("dot", disc(17.2)))
    )
    assert judged(job).status == "complete"


def test_pieces_are_placed_round_a_hole_in_the_middle_of_an_offcut() -> None:
    holed = Polygon(box(0, 0, 60, 60).exterior, [box(20, 20, 40, 40).exterior])
    job = Job((sheet(holed),), (Wanted("a", box(0, 0, 38, 19), 4),))
    assert judged(job).status == "complete"


def test_metal_in_two_parts_takes_pieces_in_both() -> None:
    parts = MultiPolygon([box(0, 0, 30, 30), box(40, 0, 70, 30)])
    job = Job((Stock("S1", parts, 0.0003),), (Wanted("a", box(0, 0, 29, 28), 2),))
    assert judged(job).status == "complete"


def test_a_slanting_bar_that_fits_only_along_the_diagonal_is_placed() -> None:
    job = Job((sheet(square(60)),), (Wanted("bar", box(0, 0, 75, 4)),))
    assert judged(job).status == "complete"


def test_listed_turns_are_kept_to() -> None:
    job = Job(
        (sheet(square(100)),),
        (Wanted("bar", box(0, 0, 90, 10), 4, turns_deg=(90.0,)), Wanted("s", star(12, 5), 3)),
    )
    plan = judged(job)
    assert {p.turn_deg for p in plan.placements if p.piece == "bar"} == {90.0}


def test_a_piece_that_fits_only_mirrored_is_mirrored_when_it_may_be() -> None:
    hook = Polygon([(0, 0), (60, 0), (60, 10), (20, 10), (20, 50), (0, 50)])
    mirrored = Polygon([(0, 0), (60, 0), (60, 50), (40, 50), (40, 10), (0, 10)])
    metal = (sheet(mirrored),)
    fixed = judged(Job(metal, (Wanted("h", hook),)))
    assert fixed.status == "partial"
    free = judged(Job(metal, (Wanted("h", hook, may_mirror=True),)))
    assert free.status == "complete"
    assert free.placements[0].mirror


def test_pieces_stay_one_kerf_from_edges_that_are_not_clean() -> None:
    job = Job((sheet(square(60), clean=False),), (Wanted("a", square(29.5), 4),))
    plan = judged(job)
    assert len(plan.placements) == 4
    assert plan.measures.free_edge_mm == 0.0


def test_an_offcut_is_used_before_a_sheet_is_opened() -> None:
    job = Job(
        (sheet(), sheet(box(0, 0, 90, 45), "O1")),
        (Wanted("a", square(20), 6), Wanted("s", star(9, 4))),
    )
    plan = judged(job, rounds=4)
    assert {p.metal for p in plan.placements} == {"O1"}


def test_an_offcut_too_small_for_all_leaves_the_rest_to_the_sheet() -> None:
    job = Job((sheet(), sheet(square(41), "O1")), (Wanted("a", square(20), 6),))
    plan = judged(job, rounds=4)
    assert plan.status == "complete"


def test_the_tangrams_seven_pieces_fill_most_of_two_of_their_squares() -> None:
    side = 80.0
    pieces = (
        Wanted("large", triangle(side / math.sqrt(2), side / math.sqrt(2)), 2),
        Wanted("middle", triangle(side / 2, side / 2)),
        Wanted("small", triangle(side / math.sqrt(8), side / math.sqrt(8)), 2),
        Wanted("square", square(side / math.sqrt(8))),
        Wanted("slant", Polygon([(0, 0), (40, 0), (60, 20), (20, 20)]), may_mirror=True),
    )
    assert sum(wanted.outline.area * wanted.count for wanted in pieces) == pytest.approx(side**2)
    job = Job((sheet(box(0, 0, 2 * side, side)),), pieces, kerf_mm=0.0, goal="strip")
    plan = judged(job, rounds=4)
    assert plan.status == "complete"
    assert side - 1e-3 <= plan.measures.strip_length_mm <= 1.6 * side


# Friedman, "Packing Unit Squares in Squares", Electronic Journal of Combinatorics DS7: the
# smallest square that holds n unit squares. s(5) by Göbel 1979, s(10) by Stromquist 2003.
SQUARES = {2: 2.0, 3: 2.0, 4: 2.0, 5: 2 + 1 / math.sqrt(2), 10: 3 + 1 / math.sqrt(2)}
# Markót & Csendes 2005 and before: the smallest square that holds n circles of radius one.
CIRCLES = {2: 2 + math.sqrt(2), 5: 2 + 2 * math.sqrt(2), 7: 4 + math.sqrt(3)}


@pytest.mark.parametrize("n", SQUARES)
def test_no_plan_packs_unit_squares_into_less_than_the_known_least_square(n: int) -> None:
    side = 10.0
    tight = Job((sheet(square(SQUARES[n] * side * 0.995)),), (Wanted("a", square(side), n),), 0.0)
    assert judged(tight).status == "partial"


@pytest.mark.parametrize("n", CIRCLES)
def test_no_plan_packs_circles_into_less_than_the_known_least_square(n: int) -> None:
    radius = 10.0
    # the polygon has 48 sides and is smaller than its circle by at most 1 − cos(π/48) = 0.22 %
    tight = Job((sheet(square(CIRCLES[n] * radius * 0.99)),), (Wanted("c", disc(radius), n),), 0.0)
    assert judged(tight).status == "partial"


def test_the_strip_goal_uses_the_first_metal_only_and_from_its_left_end() -> None:
    job = Job(
        (sheet(box(0, 0, 400, 60)), sheet(name="S2")),
        (Wanted("a", box(0, 0, 20, 30), 6),),
        kerf_mm=0.0,
        goal="strip",
    )
    plan = judged(job, rounds=2)
    assert {p.metal for p in plan.placements} == {"S1"}
    assert plan.measures.strip_length_mm == pytest.approx(60.0)


def test_outlines_with_a_thousand_vertices_are_placed() -> None:
    job = Job((sheet(),), (Wanted("s", spoon(1000), 8),))
    assert judged(job).status == "complete"


def test_a_window_that_touches_the_shell_in_one_point_is_no_obstacle() -> None:
    touching = Polygon([(0, 0), (40, 0), (40, 40), (0, 40)], [[(0, 20), (10, 15), (10, 25)]])
    assert judged(Job((sheet(),), (Wanted("t", touching, 3),))).status == "complete"


def test_slivers_are_placed() -> None:
    sliver = Polygon([(0, 0), (80, 0), (80, 0.05)])
    assert judged(Job((sheet(),), (Wanted("s", sliver, 4),))).status == "complete"


def test_progress_is_reported_and_can_end_the_search() -> None:
    seen: list[Plan] = []

    def stop_at_the_first_plan(plan: Plan) -> bool:
        seen.append(plan)
        return not plan.placements

    plan = place(class_job(), rounds=50, on_progress=stop_at_the_first_plan)
    assert plan.rounds <= 1
    assert plan.status == "complete"
    assert seen[-1].placements == plan.placements
    assert not faults(class_job(), plan.placements)


def test_every_reported_plan_is_valid_and_no_worse_than_the_one_before() -> None:
    seen: list[Plan] = []
    job = class_job()

    def note(plan: Plan) -> bool:
        seen.append(plan)
        return True

    place(job, rounds=4, on_progress=note)
    costs = [plan.measures.cost for plan in seen if plan.status == "complete"]
    assert costs == sorted(costs, reverse=True)
    assert all(faults(job, plan.placements) == () for plan in seen)


def many_stars() -> Job:
    metal = sheet(box(0, 0, 2000, 1000))
    return Job((metal,), tuple(Wanted(f"s{i}", star(14, 6), 10) for i in range(40)))


def test_a_job_too_large_for_its_time_still_gives_a_valid_plan_and_begins_nothing_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job, clock = many_stars(), CountedClock()
    monkeypatch.setattr(search, "time", clock)
    plan = place(job, seconds=60.0)
    assert faults(job, plan.placements) == ()
    assert plan.status == "partial"
    assert all("no time" in u.why for u in plan.unplaced)
    assert clock.looks < 80  # those of the search, a few of measuring, none of further pieces


def test_no_clock_ends_a_search_that_is_given_rounds_alone() -> None:
    plan = judged(class_job(), rounds=WITHOUT_COMPILING + 3)  # the clock races
    assert plan.rounds == WITHOUT_COMPILING + 3
    assert plan.status == "complete"


def test_a_search_wants_seconds_or_rounds() -> None:
    with pytest.raises(ValueError, match="seconds"):
        place(class_job())


def test_a_first_plan_is_made_whole_though_its_seconds_are_over() -> None:
    cut = place(class_job(), seconds=0.001)
    assert cut.status == "partial"
    whole = place(class_job(), seconds=0.001, first_within=1e9)
    assert whole.status == "complete"
    assert whole.rounds == 1
    assert whole.placements == place(class_job(), rounds=1).placements


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs(), st.integers(1, 2))
def test_random_jobs_have_no_fault_and_their_areas_add_up(job: Job, rounds: int) -> None:
    judged(job, rounds=rounds)


def test_moving_any_piece_of_a_tight_plan_makes_a_fault() -> None:
    job = Job((sheet(box(0, 0, 62.6, 20)),), (Wanted("a", box(0, 0, 20, 20), 3),), kerf_mm=1.3)
    plan = judged(job)
    assert plan.status == "complete"
    for k, placement in enumerate(plan.placements):
        for step in (-0.1, 0.1):
            moved = replace(placement, x_mm=placement.x_mm + step)
            others = [*plan.placements[:k], moved, *plan.placements[k + 1 :]]
            assert faults(job, others)
