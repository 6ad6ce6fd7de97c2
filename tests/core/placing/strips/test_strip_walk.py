"""A walk over layouts of a strip: never an overlap, never longer, lengths known by hand."""

from __future__ import annotations

import random

import numpy as np
import pytest

from studio.core.placing.strips import walk
from studio.core.placing.strips.drawing_in import FRESH, POOL_LINE, POOLED, hunt_of
from studio.core.placing.strips.kernels import BEST, SUCCESSES
from studio.core.placing.strips.walk import Layout
from studio.core.placing.warming import warm_up
from tests.core.placing.jobs import star
from tests.core.placing.strips.strip_benchmark import HOOK, SQUARE, Bench, going_on

MANY = 2_000_000  # evaluations


def loose_row(dice: random.Random, high: float, turns: tuple[float, ...] = (0.0,)) -> Bench:
    """Eight hooks and stars beside each other, with gaps, each at any height."""
    outlines = [HOOK if dice.random() < 0.6 else star(14, 6) for _ in range(8)]
    laid, x = [], 0.0
    for outline in outlines:
        x0, y0, x1, y1 = outline.bounds
        laid.append((outline, x - x0, dice.uniform(0.0, high - (y1 - y0)) - y0))
        x += x1 - x0 + dice.uniform(0.0, 1.5)
    return Bench(high, *laid, turns=turns)


@pytest.mark.slow
def test_a_row_of_squares_is_walked_into_two_rows() -> None:
    """Four squares of 10 in a row of 43, in a strip 20 high: two by two they need 20."""
    warm_up()
    row = Bench(20, *((SQUARE, 11.0 * k, 0.0) for k in range(4)))
    row.go(1, MANY)
    assert row.strip.bounds[BEST] == pytest.approx(20.0, abs=1e-2)
    row.check()


@pytest.mark.slow
def test_the_best_never_grows_longer_and_never_overlaps_on_the_way() -> None:
    warm_up()
    loose = loose_row(random.Random(7), 48.0, turns=(0.0, 90.0, 180.0, 270.0))
    long = float(loose.strip.bounds[BEST])
    lengths = []
    for number in range(12):
        loose.go(number, 100_000)
        lengths.append(float(loose.strip.bounds[BEST]))
        loose.check()
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] < 0.7 * long  # two fit above each other, which a row cannot use


@pytest.mark.slow
def test_the_same_seeds_walk_the_same_way() -> None:
    warm_up()
    ends = []
    for _ in range(2):
        row = Bench(24, *((HOOK, 31.0 * k, 0.0) for k in range(5)), turns=(0.0, 180.0))
        for number in range(5):
            row.go(number, 150_000)
        ends.append((row.strip.best_pose.tolist(), row.strip.best_form.tolist()))
    assert ends[0] == ends[1]


@pytest.mark.slow
def test_a_walk_told_to_stop_leaves_the_best_as_it_was() -> None:
    warm_up()
    row = Bench(20, *((SQUARE, 10.2 * k, 0.0) for k in range(4)))
    before = float(row.strip.bounds[BEST])
    row.walk.go(row.tables, row.strip, np.ones(1, dtype=np.int64), 1, 10**9)
    assert row.strip.bounds[BEST] == before


@pytest.mark.slow
def test_one_piece_alone_stays_as_long_as_it_is() -> None:
    warm_up()
    one = Bench(20, (SQUARE, 4.0, 3.0))
    one.go(1, MANY)
    assert one.strip.bounds[BEST] == pytest.approx(10.0, abs=1e-2)
    one.check()


@pytest.mark.slow
def test_hooks_and_stars_keep_clear_of_each_other_when_the_best_is_pressed() -> None:
    warm_up()
    dice = random.Random(7)
    for _ in range(30):
        loose = loose_row(dice, 32.0)
        loose.press_best()
        loose.check()
        assert loose.strip.bounds[BEST] < loose.length(loose.pose) - 1.0


@pytest.mark.slow
def test_nothing_is_taken_over_that_still_overlaps(monkeypatch: pytest.MonkeyPatch) -> None:
    warm_up()
    loose = Bench(10, *((SQUARE, 10.6 * k, 0.0) for k in range(3)))
    wrong = loose.pose - np.array([[0.0, 0.0], [1.6, 0.0], [3.2, 0.0]])
    monkeypatch.setattr(loose.press, "pressed", lambda *_: wrong)
    before = float(loose.strip.bounds[BEST])
    loose.press_best()
    loose.go(1, MANY)
    assert loose.strip.bounds[BEST] >= before - 1.21  # the two gaps of 0.6, found by steps alone
    loose.check()


def test_a_lane_is_walked_when_it_can_draw_in_no_further_and_has_a_layout() -> None:
    row = Bench(20, *((SQUARE, 11.0 * k, 0.0) for k in range(4)))
    hunt = hunt_of(4)
    assert not row.walk.may_go(row.strip, hunt, 1)
    hunt.mark[POOLED], hunt.gauge[POOL_LINE] = 1, row.strip.bounds[BEST] - 0.1
    assert row.walk.may_go(row.strip, hunt, 1)
    assert not row.walk.may_go(row.strip, hunt, 2)
    row.walk.begin_anew(row.strip)
    assert not row.walk.may_go(row.strip, hunt, 1)  # strewn: what it has overlaps
    row.walk.follow(float(row.strip.bounds[BEST]))
    assert row.walk.may_go(row.strip, hunt, 1)  # it has another lane's
    row.walk.begin_anew(row.strip)
    row.strip.tally[SUCCESSES] += 1
    assert row.walk.may_go(row.strip, hunt, 1)
    hunt.gauge[POOL_LINE] = row.strip.bounds[BEST]
    assert not row.walk.may_go(row.strip, hunt, 1)  # that line has been reached since
    hunt.mark[POOLED] = 0
    row.walk.at = Layout(row.pose, row.form, 43.0)
    assert row.walk.may_go(row.strip, hunt, 1)  # under way
    row.press.fits = False
    assert not row.walk.may_go(row.strip, hunt, 1)


@pytest.mark.slow
def test_a_strip_with_more_rows_than_there_is_room_for_is_not_walked() -> None:
    warm_up()
    row = Bench(20, *((SQUARE, 11.0 * k, 0.0) for k in range(4)))
    row.press_best()
    assert row.press.fits
    rows = row.press.rows
    row.press.rows = rows._replace(least=rows.least[:2])  # what the room is measured by
    row.walk.follow(0.0)
    row.press_best()
    assert not row.press.fits
    row.check()


@pytest.mark.slow
def test_a_failed_attempt_that_the_program_can_mend_becomes_the_best() -> None:
    warm_up()
    tight = Bench(10, *((SQUARE, 10.6 * k, 0.0) for k in range(5)))
    tight.walk.last = before = float(tight.strip.bounds[BEST])  # the best has been pressed already
    hunt = hunt_of(5)
    tight.walk.press_left(tight.tables, tight.strip, hunt, going_on())
    assert tight.strip.bounds[BEST] == before
    hunt.pool_pose[0] = tight.pose
    hunt.pool_pose[0, :, 0] -= 0.67 * np.arange(5)  # each 0.07 into the next
    hunt.pool_form[0] = tight.form
    hunt.mark[FRESH] = 1
    tight.walk.press_left(tight.tables, tight.strip, hunt, going_on())
    assert tight.strip.bounds[BEST] == pytest.approx(50.0, abs=1e-2)
    assert hunt.mark[FRESH] == 0


@pytest.mark.slow
def test_what_is_not_shorter_is_gone_on_from_by_chance_and_the_best_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    warm_up()
    row = Bench(10, *((SQUARE, 10.0 * k, 0.0) for k in range(4)))
    row.press_best()
    best, length = float(row.strip.bounds[BEST]), 40.0
    worse = iter([0.5, 1e-9, 0.5, 1e-9])
    seen: list[float] = []

    def next_one(tables: object, at: Layout, *_: object) -> Layout:
        seen.append(at.line)
        row.walk.trial.tally[0] += 1
        return Layout(row.pose, row.form, at.line + next(worse) * length)

    monkeypatch.setattr(row.walk, "_step", next_one)
    monkeypatch.setattr(walk, "WARM", (1e-4,))
    row.go(1, 7)
    assert row.strip.bounds[BEST] == best
    # half as long again is never gone on from, a hair longer is
    assert seen == pytest.approx([best] * 4, abs=1e-6)
    assert row.walk.at is not None
    assert best < row.walk.at.line < best + 1e-6
