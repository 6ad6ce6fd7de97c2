"""Strips: drawn in by our own search on tables.

Slow at first: the loops are compiled once, and kept where the cache can be written.
"""

from __future__ import annotations

import math
import random
import time
from typing import Any

import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from studio.core.cutting import Job, Placement, Plan, Stock, Wanted
from studio.core.placing import place, search
from studio.core.placing.shapes import Shape
from studio.core.placing.strips import forms as strip_forms
from studio.core.placing.strips import moves as strip_moves
from studio.core.placing.strips import rounds as strips
from studio.core.placing.strips.drawing_in import POOL_LINE, POOLED
from studio.core.placing.strips.forms import Ground, fits_tables
from studio.core.placing.strips.kernels import BEST, EVALUATIONS
from studio.core.placing.strips.pairs import pair_loss
from studio.core.placing.strips.walk import Layout
from studio.core.placing.warming import warm_up
from tests.core.placing.jobs import disc, sheet, square, star, triangle
from tests.core.placing.judging import judged
from tests.core.placing.strips.strip_benchmark import HOOK
from tests.core.verifying.dissections import MORON_33, job_of

QUARTERS = (0.0, 90.0, 180.0, 270.0)


def strip(*pieces: Wanted, kerf: float = 0.0, metal: Stock | None = None) -> Job:
    return Job((metal or sheet(box(0, 0, 400, 60)),), pieces, kerf_mm=kerf, goal="strip")


def test_only_a_rectangle_with_listed_turns_is_searched_on_tables() -> None:
    listed, free = Wanted("a", HOOK, 2, QUARTERS), Wanted("b", HOOK)
    assert fits_tables(strip(listed))
    assert not fits_tables(strip(listed, free))
    assert not fits_tables(strip(listed, metal=sheet(disc(50))))
    assert not fits_tables(Job((sheet(),), (listed,)))


@pytest.mark.slow
def test_tables_never_differ_from_exact_geometry_however_often_they_are_asked() -> None:
    warm_up()
    wanteds = [Wanted("h", HOOK, 1, QUARTERS), Wanted("s", star(14, 6), 1, (0.0, 30.0))]
    job = strip(*wanteds, Wanted("t", triangle(20, 12), 1, (0.0, 180.0)))
    ground = Ground(job, [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)])
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
        for _ in range(2):  # found out at first, then from the table
            loss = pair_loss(forms, tables, u, v, dx, dy)
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
        *(Wanted(o.id, o.outline, o.count, (0.0,)) for o in job.pieces),
        metal=Stock("S1", box(0, 0, 3 * width, height)),
    )
    plan = judged(job, rounds=40)
    # its perfect packing is the bound: Moroń 1925; a tolerance on both sides
    assert width - 1e-2 <= plan.measures.strip_length_mm <= 1.1 * width
    again = place(job, rounds=40, workers=2)
    assert again.placements == plan.placements


@pytest.mark.slow
@pytest.mark.parametrize("kerf", [0.0, 0.4])
def test_a_strip_with_kerf_mirrors_and_rough_edges_has_no_fault(kerf: float) -> None:
    warm_up()
    rough = Stock("S1", box(10, 5, 410, 65), clean_edges=False)
    job = strip(
        Wanted("h", HOOK, 8, QUARTERS, may_mirror=True),
        Wanted("s", star(12, 5), 6, (0.0, 36.0)),
        Wanted("q", square(9), 7, (0.0,)),
        kerf=kerf,
        metal=rough,
    )
    plan = judged(job, rounds=12)
    assert plan.status == "complete"


def ground_of(*pieces: Wanted) -> Ground:
    job = strip(*pieces)
    return Ground(job, [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)])


def test_turns_that_look_alike_are_searched_once() -> None:
    # a square covers itself after a quarter turn, a rectangle after half a turn, the hook never
    oblong = box(3, 4, 15, 9)
    turns = [
        [form.turn_deg for form in ground_of(Wanted("a", outline, 1, QUARTERS)).list]
        for outline in (square(9), oblong, HOOK)
    ]
    assert turns == [[0.0], [0.0, 90.0], [0.0, 90.0, 180.0, 270.0]]


def test_a_window_tells_turns_and_pieces_apart() -> None:
    frame = box(0, 0, 30, 30).difference(box(2, 2, 20, 20))
    ground = ground_of(Wanted("f", frame, 1, QUARTERS), Wanted("s", square(30), 1, (0.0,)))
    assert [form.turn_deg for form in ground.list] == [*QUARTERS, 0.0]
    # the frame against itself at three bends, the frame and the square, the square and itself
    assert len(ground.tables.forms) == 3 + 4 + 1


def test_turns_that_are_no_whole_part_of_a_full_one_are_kept_apart() -> None:
    seventh = 360.0 / 7.0
    corners = [2.0 * math.pi * k / 7.0 for k in range(7)]
    heptagon = Polygon([(9.0 * math.cos(t), 9.0 * math.sin(t)) for t in corners])
    ground = ground_of(Wanted("h", heptagon, 1, (0.0, seventh, 90.0)))
    assert 90.0 in [form.turn_deg for form in ground.list]
    turns = tuple(k * seventh for k in range(7))
    assert len(ground_of(Wanted("h", heptagon, 1, turns), Wanted("k", HOOK, 1, turns)).list) >= 8


@pytest.mark.slow
def test_a_piece_within_anothers_window_or_outline_is_told_apart() -> None:
    warm_up()
    frame = box(0, 0, 30, 30).difference(box(2, 2, 20, 20))
    orders = Wanted("f", frame, 1, QUARTERS), Wanted("s", square(30), 1, (0.0,))
    ground = ground_of(*orders, Wanted("q", square(10), 1, (0.0,)))
    small, full = len(ground.list) - 1, len(ground.list) - 2
    forms, tables = ground.forms, ground.tables
    for u, v, dx, dy in ((small, 0, -4.0, -4.0), (small, full, 0.0, 0.0), (small, 0, 3.0, 3.0)):
        a, b = ground.list[u].outline, ground.list[v].outline
        apart = affinity.translate(a, dx, dy).intersection(b).area == 0.0
        assert (pair_loss(forms, tables, u, v, dx, dy) == 0.0) is apart
        assert (pair_loss(forms, tables, v, u, -dx, -dy) == 0.0) is apart
    # one lies within the other by less than a hair: nothing crosses, and all of it overlaps
    ground = ground_of(
        Wanted("a", box(0, 0, 20.0004, 10), 1, (0.0,)),
        Wanted("b", box(0, 0, 20, 10.0004), 1, (0.0,)),
    )
    for k in range(25):
        dx, dy = (k % 5 - 2) * 5e-5, (k // 5 - 2) * 5e-5
        assert pair_loss(ground.forms, ground.tables, 0, 1, dx, dy) > 0.0


@pytest.mark.slow
def test_a_full_list_of_edges_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    warm_up()
    job = strip(Wanted("h", HOOK, 6, QUARTERS), Wanted("s", star(14, 6), 4, (0.0, 30.0)))
    monkeypatch.setattr(strip_forms, "MOST_PAIRS", 50)
    assert place(job, rounds=6).status == "complete"
    short = judged(job, rounds=6)
    monkeypatch.undo()
    assert short.placements == judged(job, rounds=6).placements


def test_a_mirrored_piece_that_looks_the_same_is_no_form_of_its_own() -> None:
    one = ground_of(Wanted("a", box(0, 0, 12, 5), 1, (0.0,), may_mirror=True))
    two = ground_of(Wanted("a", HOOK, 1, (0.0,), may_mirror=True))
    assert [form.mirror for form in one.list] == [False]
    assert [form.mirror for form in two.list] == [False, True]


def test_pieces_drawn_alike_share_what_is_known_of_them() -> None:
    moved = affinity.rotate(affinity.translate(HOOK, 70, -20), 90.0, origin=(3, 3))
    twins = ground_of(Wanted("a", HOOK, 1, QUARTERS), Wanted("b", moved, 1, QUARTERS))
    alone = ground_of(Wanted("a", HOOK, 2, QUARTERS))
    assert len(twins.list) == 2 * len(alone.list)
    # four turns of one against the other, and which of the two comes first does not matter
    assert len(twins.tables.forms) == len(alone.tables.forms) == 3


def test_a_pose_and_back_covers_the_same_metal() -> None:
    outlines = {"h": HOOK, "s": affinity.translate(square(9), 5, 7), "b": box(1, 2, 13, 7)}
    pieces = [Wanted(name, o, 1, QUARTERS, may_mirror=True) for name, o in outlines.items()]
    ground = ground_of(*pieces)
    for wanted in pieces:
        for mirror in (False, True):
            for turn in QUARTERS:
                laid = Placement(wanted.id, 0, "S1", mirror, turn, 31.25, -7.5)
                form, x, y = ground.pose(laid)
                again = ground.placement(form, 0, x, y)
                one, two = laid.lay(wanted.outline), again.lay(wanted.outline)
                assert one.symmetric_difference(two).area < 1e-3


@pytest.mark.slow
def test_a_search_that_gets_no_further_begins_anew_and_keeps_its_best(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    warm_up()
    begun: list[float] = []
    anew = strips.begin_anew

    def note(*args: Any) -> None:
        begun.append(args[-1])
        anew(*args)

    monkeypatch.setattr(strips, "begin_anew", note)
    monkeypatch.setattr(strips, "PATIENCE", 2)
    job = strip(Wanted("h", HOOK, 10, QUARTERS), Wanted("t", triangle(20, 12), 10, (0.0, 180.0)))
    plan = judged(job, rounds=30)
    assert begun
    assert all(line > plan.measures.strip_length_mm for line in begun)
    # what it fills is known, and a plain plan of these has been seen to need a fifth more
    area = sum(wanted.outline.area * wanted.count for wanted in job.pieces)
    assert area / 60.0 <= plan.measures.strip_length_mm <= 1.2 * area / 60.0
    assert math.isfinite(plan.measures.cost)
    assert place(job, rounds=30, workers=2).placements == plan.placements


def test_a_lane_is_granted_half_as_many_rounds_as_led_it_to_where_it_is() -> None:
    since = strips.Since(0, 100.0)
    assert not since.stuck(strips.PATIENCE, 100.0)
    assert since.stuck(strips.PATIENCE + 1, 99.99)  # a hair shorter is no progress
    since = strips.Since(0, 100.0)
    assert not since.stuck(300, 98.0)
    assert not since.stuck(450, 98.0)
    assert since.stuck(451, 98.0)


def shortener_of(*pieces: Wanted) -> strips.Shortener:
    job = strip(*pieces)
    plan = place(job, rounds=1)
    return strips.Shortener(
        job, [Shape(i, wanted, job) for i, wanted in enumerate(job.pieces)], plan.placements
    )


@pytest.mark.slow
def test_lanes_that_search_apart_go_on_from_the_best_at_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    warm_up()
    monkeypatch.setattr(strips, "BUDGET", 0)  # so that nothing is found meanwhile
    shortener = shortener_of(
        Wanted("h", HOOK, 6, QUARTERS), Wanted("t", triangle(20, 12), 6, (0.0, 180.0))
    )
    best = [lane.bounds[BEST] for lane in shortener.lanes]
    assert best[0] == best[1]
    shortener.apart = True
    shortener.lanes[1].bounds[BEST] += 40.0  # as after it has begun anew
    for lane, walk in zip(shortener.lanes, shortener.walks, strict=True):
        assert walk is not None
        walk.last = float(lane.bounds[BEST])  # has been pressed
    shortener.round(1, 0, 2, 0.1, lambda: True)
    assert shortener.lanes[1].bounds[BEST] > shortener.good[2]
    line = shortener.good[2] + strips.HAIR_MM
    shortener.round(1, 1, 2, strips.APART, lambda: True)
    assert all(lane.bounds[BEST] <= line for lane in shortener.lanes)


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2])
def test_a_lane_that_can_draw_in_no_further_walks(
    monkeypatch: pytest.MonkeyPatch, workers: int
) -> None:
    warm_up()
    monkeypatch.setattr(strips, "BUDGET", 200_000)
    narrower = shortener_of(
        Wanted("h", HOOK, 6, QUARTERS), Wanted("t", triangle(20, 12), 6, (0.0, 180.0))
    )
    first, second = narrower.walks
    assert first is not None
    assert second is not None
    narrower.hunts[0].mark[POOLED] = strips.FAILURES[0]
    narrower.hunts[0].gauge[POOL_LINE] = narrower.good[2] - 1.0
    before = narrower.good[2]
    narrower.round(1, 0, workers, 0.1, lambda: True)
    assert first.at is not None
    assert second.at is None
    assert first.trial.tally[EVALUATIONS] >= 200_000
    assert narrower.good[2] <= before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("rested", "failed", "walks"),
    [
        (False, strips.FAILURES[0] - 1, False),
        (False, strips.FAILURES[0], True),
        (True, 0, False),
        (True, 1, True),
    ],
)
def test_a_lane_that_has_rested_once_soon_walks_again(
    monkeypatch: pytest.MonkeyPatch, rested: bool, failed: int, walks: bool
) -> None:
    warm_up()
    monkeypatch.setattr(strips, "BUDGET", 100)
    narrower = shortener_of(Wanted("h", HOOK, 6, QUARTERS), Wanted("q", square(10), 6, (0.0,)))
    narrower.rested = rested
    narrower.hunts[0].mark[POOLED] = failed
    narrower.hunts[0].gauge[POOL_LINE] = narrower.good[2] - 1.0
    narrower.round(1, 0, 2, 0.1, lambda: True)
    first = narrower.walks[0]
    assert first is not None
    assert (first.at is not None) is walks


@pytest.mark.slow
def test_a_lane_that_walks_is_left_alone_while_it_is_nearly_as_short() -> None:
    warm_up()
    narrower = shortener_of(
        Wanted("h", HOOK, 6, QUARTERS), Wanted("t", triangle(20, 12), 6, (0.0, 180.0))
    )
    lane, walk, best = narrower.lanes[1], narrower.walks[1], narrower.good[2]
    assert walk is not None
    for share, stays in ((0.4, True), (1.5, False)):
        walk.at = Layout(lane.best_pose.copy(), lane.best_form.copy(), best)
        lane.bounds[BEST] = best + share * strips.LEEWAY * narrower.length_mm
        narrower._share()
        assert bool(lane.bounds[BEST] > best) is stays
        assert (walk.at is not None) is stays


@pytest.mark.slow
def test_a_strip_is_seen_to_grow_shorter_though_measuring_it_takes_long(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    warm_up()
    plain = search.measure

    def slowly(*args: Any) -> Any:
        time.sleep(0.07)  # more than a tenth of the time between two reports
        return plain(*args)

    monkeypatch.setattr(search, "measure", slowly)
    seen: list[float] = []

    def note(plan: Plan) -> bool:
        if plan.status == "complete":
            seen.append(plan.measures.strip_length_mm)
        return seen[-1:] == seen[:1]  # until it is shorter

    job = strip(Wanted("h", HOOK, 10, QUARTERS), Wanted("t", triangle(20, 12), 10, (0.0, 180.0)))
    plan = place(job, rounds=400, on_progress=note)
    assert seen[-1] < seen[0]
    assert plan.rounds < 400


@pytest.mark.slow
def test_a_strip_that_nobody_watches_is_measured_at_the_beginning_and_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Measures may take longer than many rounds: only the first plan and the last need them."""
    warm_up()
    plain, seen = search.measure, []

    def note(*args: Any) -> Any:
        seen.append(plain(*args))
        return seen[-1]

    monkeypatch.setattr(search, "measure", note)
    job = strip(Wanted("h", HOOK, 10, QUARTERS), Wanted("t", triangle(20, 12), 10, (0.0, 180.0)))
    plan = place(job, rounds=8)
    assert len(seen) == 2
    assert plan.measures == seen[-1][0]
    assert plan.measures.strip_length_mm < seen[0][0].strip_length_mm


@pytest.mark.slow
def test_a_touching_place_brings_a_corner_to_another_pieces_rim() -> None:
    warm_up()
    narrower = shortener_of(Wanted("h", HOOK, 1, (0.0,)), Wanted("s", star(14, 6), 1, (0.0,)))
    forms, lane = narrower.ground.forms, narrower.lanes[0]
    outlines = [form.outline for form in narrower.ground.list]
    lying = affinity.translate(outlines[lane.form[1]], *lane.pose[1])
    own = outlines[lane.form[0]]
    for _ in range(200):
        strip_moves.touch(forms, lane, 0, int(lane.form[0]))
        laid = affinity.translate(own, *lane.spot)
        corners = [Point(p) for p in laid.exterior.coords]
        theirs = [Point(p) for p in lying.exterior.coords]
        near = min(
            *(lying.exterior.distance(p) for p in corners),
            *(laid.exterior.distance(p) for p in theirs),
        )
        assert near < 1e-6
