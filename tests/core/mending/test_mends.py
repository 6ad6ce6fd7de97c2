"""What is offered for shaken shapes whose truth is known, and what comes of doing it."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from studio.core.checking import check
from studio.core.correcting import corrected
from studio.core.drawing import Limits, Weight
from studio.core.mending import Mend, mends, offering, together
from studio.core.mending import thresholds as t
from studio.core.mending.ways import Way
from studio.core.reading import Tracing, assemble

from .hand import Points, closed_line, ellipse, leaf, open_line, polygon, shaken, tracing

LIMITS = Limits()
RECTANGLE = [(0.0, 0.0), (40.0, 0.0), (40.0, 25.0), (0.0, 25.0)]
SKEWED = [(0.0, 0.0), (40.0, 0.9), (39.3, 25.0), (-0.3, 25.2)]


def offers(drawn: Tracing, code: str) -> list[Mend]:
    return [mend for mend in mends(drawn, {}, LIMITS) if mend.code == code]


def done(drawn: Tracing, mend: Mend) -> Tracing:
    return corrected(drawn, mend.changes)


def points_of(drawn: Tracing, line: str = "1") -> Points:
    return np.array(next(each.points for each in drawn.lines if each.id == line))


@pytest.mark.parametrize("seed", range(5))
def test_shaken_sides_become_exactly_straight_and_near_the_true_ones(seed: int) -> None:
    drawn = tracing(shaken(polygon(RECTANGLE), 0.35, seed, corners=np.array(RECTANGLE)))
    (mend,) = offers(drawn, "straight")
    after = points_of(done(drawn, mend))
    assert len(after) == 4
    for corner in RECTANGLE:
        assert np.hypot(*(after - corner).T).min() < 0.35
    assert 0.2 < mend.moved_mm < 0.7
    assert mend.deed == "Straighten the 4 sides"
    assert not offers(done(drawn, mend), "straight")


def test_nearly_square_corners_become_exactly_square() -> None:
    drawn = tracing(shaken(polygon(SKEWED), 0.2, 2, corners=np.array(SKEWED)))
    (mend,) = offers(drawn, "square")
    after = points_of(done(drawn, mend))
    sides = np.roll(after, -1, axis=0) - after
    for one, other in zip(sides, np.roll(sides, -1, axis=0), strict=True):
        assert abs(one @ other) / np.hypot(*one) / np.hypot(*other) < 1e-6
    assert Polygon(after).area == pytest.approx(Polygon(SKEWED).area, rel=0.01)


def test_nearly_parallel_sides_become_exactly_parallel() -> None:
    drawn = tracing(polygon([(0, 0), (40, 0.8), (50, 25), (10, 25)]))
    (mend,) = offers(drawn, "parallel")
    after = points_of(done(drawn, mend))
    sides = np.roll(after, -1, axis=0) - after
    units = sides / np.hypot(*sides.T)[:, None]
    assert abs(float(units[0, 0] * units[2, 1] - units[0, 1] * units[2, 0])) < 1e-6


@pytest.mark.parametrize("size_mm", [0.2, 0.35, 0.5])
@pytest.mark.parametrize("seed", [1, 3, 8])
def test_a_shaken_circle_becomes_the_true_one(seed: int, size_mm: float) -> None:
    drawn = tracing(shaken(ellipse(20, 21, 15, 15), size_mm, seed))
    (mend,) = offers(drawn, "circle")
    circle = done(drawn, mend).lines[0].round
    assert circle is not None
    assert (circle.x_mm, circle.y_mm) == pytest.approx((20, 21), abs=0.1)
    assert circle.diameter_mm == pytest.approx(30, abs=0.15)
    assert mend.moved_mm == pytest.approx(size_mm, abs=0.12)


def test_a_shaken_ellipse_becomes_the_true_one() -> None:
    drawn = tracing(shaken(ellipse(20, 21, 18, 11, 0.4), 0.3, 4))
    (mend,) = offers(drawn, "ellipse")
    after = Polygon(points_of(done(drawn, mend)))
    true = Polygon(ellipse(20, 21, 18, 11, 0.4))
    assert after.symmetric_difference(true).area < 0.01 * true.area
    assert done(drawn, mend).lines[0].round is None


def test_a_mirrored_half_makes_both_halves_alike_and_either_can_be_kept() -> None:
    drawn = tracing(leaf(1.06))
    both = offers(drawn, "symmetric")
    assert {mend.deed for mend in both} == {"Mirror the upper half", "Mirror the lower half"}
    for mend in both:
        after = Polygon(points_of(done(drawn, mend)))
        folded = Polygon([(x, -y) for x, y in after.exterior.coords])
        assert after.symmetric_difference(folded).area < 0.001 * after.area
        assert not offers(done(drawn, mend), "symmetric")
    upper = next(mend for mend in both if "upper" in mend.deed)
    kept = np.array([point for point in upper.before[0].points if point[1] > 1])
    ring = Polygon(upper.after[0].points).exterior
    assert max(ring.distance(Polygon([p, p, p]).centroid) for p in kept[:3]) < 0.1


def test_lines_that_meet_follow_so_that_nothing_comes_apart() -> None:
    left = shaken(polygon(RECTANGLE), 0.3, 1, corners=np.array(RECTANGLE))
    edge = left[(left[:, 0] > 38) & (left[:, 1] > 0.2) & (left[:, 1] < 24.8)]
    right = np.vstack(((40.0, 25.0), edge[::-1], (40.0, 0.0), (80.0, 0.0), (80.0, 25.0)))[::-1]
    scratch = open_line("3", [tuple(left[30]), (20.0, 12.0)])
    two = tracing(left, right)
    drawn = Tracing(two.source, (*two.lines, scratch))
    mend = next(each for each in mends(drawn, {}, LIMITS) if each.lines == ("1",))
    assert {change.line for change in mend.changes} == {"1", "2", "3"}
    after = done(drawn, mend)
    one, other = (Polygon(points_of(after, line)) for line in ("1", "2"))
    assert one.intersection(other).area < 1e-3
    assert one.exterior.buffer(1e-4).intersection(other.exterior).length == pytest.approx(
        25, abs=0.3
    )
    assert one.exterior.distance(Way(after.lines[2]).line.linework) < 1e-6
    labels = assemble(drawn, {}).labels
    assert assemble(after, {}).labels == labels


def test_a_mend_that_would_leave_too_thin_a_web_is_not_offered() -> None:
    outline = polygon([(0, 0), (60, 0), (60, 40), (0, 40)])
    bulging = shaken(polygon([(10, 10), (50, 10), (50, 30), (10, 30)]), 0.5, 3)
    roomy = tracing(outline, bulging)
    assert offers(roomy, "straight")
    tight = Limits(least_web_mm=Way(roomy.lines[0]).line.linework.distance(
        Way(roomy.lines[1]).line.linework
    ))  # fmt: skip
    (mend,) = offers(roomy, "straight")
    spoilt = any(
        found.weight is Weight.STOP
        for found in check(assemble(done(roomy, mend), {}).drawing, tight)
    )
    still = [each for each in mends(roomy, {}, tight) if each.code == "straight"]
    assert bool(still) is not spoilt
    stricter = Limits(least_web_mm=9.7)
    assert not any(
        each.lines == ("2",) and _stops(done(roomy, each), stricter) > _stops(roomy, stricter)
        for each in mends(roomy, {}, stricter)
    )


def _stops(drawn: Tracing, limits: Limits) -> Counter[str]:
    found = assemble(drawn, {})
    every = (*found.findings, *check(found.drawing, limits))
    return Counter(each.code for each in every if each.weight is Weight.STOP)


def test_a_window_never_becomes_a_drill_mark_by_being_made_round() -> None:
    window = shaken(ellipse(20, 20, 1.7, 1.7, count=90), 0.09, 2)
    drawn = tracing(polygon([(0, 0), (40, 0), (40, 40), (0, 40)]), window)
    for relabels in ({}, {"2": "window"}):
        before = assemble(drawn, relabels).labels
        for mend in mends(drawn, relabels, LIMITS):
            assert assemble(done(drawn, mend), relabels).labels == before


DRAWINGS = (
    st.integers(0, 10_000),
    st.floats(0.05, 1.2),
    st.sampled_from([3, 4, 5, 6, 0]),
    st.floats(0.5, 1.0),
    st.sampled_from(["scan", "svg"]),
)


@settings(max_examples=8, deadline=None)
@given(*DRAWINGS)
def test_no_mend_makes_a_drawing_worse(
    seed: int, size_mm: float, sides: int, flat: float, kind: str
) -> None:
    no_mend_makes_it_worse(seed, size_mm, sides, flat, kind)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(*DRAWINGS)
def test_no_mend_makes_any_of_many_drawings_worse(
    seed: int, size_mm: float, sides: int, flat: float, kind: str
) -> None:
    no_mend_makes_it_worse(seed, size_mm, sides, flat, kind)


def no_mend_makes_it_worse(seed: int, size_mm: float, sides: int, flat: float, kind: str) -> None:
    chance = np.random.default_rng(seed)
    if sides:
        turn = np.arange(sides) * math.tau / sides + chance.uniform(-0.1, 0.1, sides)
        outline = polygon([(25 * math.cos(a), 25 * flat * math.sin(a)) for a in turn])
    else:
        outline = ellipse(0, 0, 25, 25 * flat, seed % 3)
    window = ellipse(float(chance.uniform(-4, 4)), 0, 5, 5 * flat)
    drawn = tracing(
        shaken(outline, size_mm, seed), shaken(window, size_mm / 3, seed + 1), kind=kind
    )
    before = assemble(drawn, {})
    for mend in mends(drawn, {}, LIMITS):
        after = done(drawn, mend)
        found = assemble(after, {})
        assert found.labels == before.labels
        assert all(piece.outline.is_valid for piece in found.drawing.pieces)
        assert not _stops(after, LIMITS) - _stops(drawn, LIMITS)
        assert mend.moved_mm <= t.TURN_MOST_MM + t.SYMMETRIC_MOST_MM
        old, new = Way(drawn.lines[0]), Way(after.lines[0])
        assert old.line.linework.hausdorff_distance(new.line.linework) <= 3.0
        again = mends(after, {}, LIMITS, by_hand=mend.lines)
        assert mend.key not in {each.key for each in again}
    assert mends(drawn, {}, LIMITS) == mends(drawn, {}, LIMITS)


def test_all_of_a_kind_at_once_leave_out_what_was_redrawn_already() -> None:
    drawn = tracing(
        shaken(ellipse(20, 20, 15, 15), 0.3, 1), shaken(ellipse(60, 20, 15, 15), 0.3, 2)
    )
    both = offers(drawn, "circle")
    assert len(both) == 2
    assert together(drawn, {}, LIMITS, both) == tuple(both)
    assert together(drawn, {}, LIMITS, [*both, both[0]]) == tuple(both)
    changes = [change for mend in both for change in mend.changes]
    assert not offers(corrected(drawn, changes), "circle")


def test_a_mended_line_of_a_file_is_still_known_as_a_hands() -> None:
    drawn = tracing(shaken(polygon(SKEWED), 0.35, 2, corners=np.array(SKEWED)), kind="svg")
    (mend,) = [each for each in mends(drawn, {}, LIMITS) if each.code == "straight"]
    after = done(drawn, mend)
    assert mends(after, {}, LIMITS) == ()
    assert {each.code for each in mends(after, {}, LIMITS, by_hand={"1"})} >= {"square"}


def test_the_key_of_a_mend_is_that_of_its_lines_and_points() -> None:
    drawn = tracing(shaken(ellipse(20, 20, 15, 15), 0.3, 1))
    other = tracing(shaken(ellipse(20, 20, 15, 15), 0.3, 2))
    (first,), (second,) = offers(drawn, "circle"), offers(other, "circle")
    assert first.key == offers(drawn, "circle")[0].key != second.key


def test_work_is_bounded_whatever_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    measured = 0

    def counting(*given: object) -> object:
        nonlocal measured
        measured += 1
        return check(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(offering, "check", counting)
    rows = []
    for number in range(120):
        x, y = 45.0 * (number % 12), 30.0 * (number // 12)
        corners = [(x, y), (x + 40, y), (x + 40, y + 25), (x, y + 25)]
        rows.append(shaken(polygon(corners), 0.3, number, corners=np.array(corners)))
    found = mends(tracing(*rows), {}, LIMITS)
    assert 0 < len(found) <= t.MOST_MENDS
    assert measured <= 4 * t.MOST_MENDS
    zigzag = np.stack((np.arange(4500.0) % 90, np.arange(4500.0) / 50), axis=1)
    assert mends(Tracing(tracing().source, (open_line("1", zigzag),)), {}, LIMITS) == ()
    assert mends(tracing([(0, 0), (20, 20), (20, 0), (0, 20)]), {}, LIMITS) == ()  # crosses itself
    assert mends(tracing(), {}, LIMITS) == ()


def test_one_closed_line_of_the_reader_is_a_way_with_its_corners() -> None:
    way = Way(closed_line("1", polygon(RECTANGLE)))
    assert [round(each, 6) for each in way.corners] == [0, 40, 65, 105]
    assert way.length == pytest.approx(130)
    assert Way(closed_line("1", ellipse(0, 0, 9, 9))).corners == ()
