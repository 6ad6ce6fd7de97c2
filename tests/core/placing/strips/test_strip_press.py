"""Layouts of a strip pressed together by a linear program: what can be counted by hand."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from studio.core.placing.strips import parts as strip_parts
from studio.core.placing.strips.parts import convex_parts, parts_of
from studio.core.placing.warming import warm_up
from tests.core.placing.jobs import star
from tests.core.placing.strips.strip_benchmark import HOOK, SQUARE, Bench

FRAME = Polygon(box(0, 0, 20, 20).exterior, [box(4, 4, 16, 16).exterior])


@pytest.mark.parametrize(
    ("outline", "most"),
    [(box(0, 0, 9, 4), 1), (HOOK, 2), (star(14, 6), 10), (FRAME, 8)],
    ids=["rectangle", "hook", "star", "frame"],
)
def test_convex_parts_fill_their_outline_without_meeting(outline: Polygon, most: int) -> None:
    parts = [Polygon(ring) for ring in convex_parts(outline)]
    assert len(parts) <= most
    for part in parts:
        assert part.exterior.is_ccw
        assert part.convex_hull.area == pytest.approx(part.area)
    assert sum(part.area for part in parts) == pytest.approx(outline.area)
    assert shapely.union_all(parts).symmetric_difference(outline).area < 1e-9 * outline.area


def test_outlines_with_too_many_corners_are_not_cut_up(monkeypatch: pytest.MonkeyPatch) -> None:
    assert parts_of([HOOK, FRAME]) is not None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 15)  # 7 + 10 coordinates
    assert parts_of([HOOK, FRAME]) is None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 10)  # 7 in the ring, 4 + 6 in its parts
    assert parts_of([HOOK]) is not None
    monkeypatch.setattr(strip_parts, "MOST_CORNERS", 7)
    assert parts_of([HOOK]) is None


@pytest.mark.slow
def test_a_row_of_squares_is_as_long_as_they_are() -> None:
    warm_up()
    apart = Bench(10, *((SQUARE, 10.5 * k, 0.0) for k in range(5)))
    found = apart.pressed()
    assert found is not None
    assert apart.length(found) == pytest.approx(50.0, abs=1e-3)


@pytest.mark.slow
def test_an_overlap_is_shared_out_among_all_that_can_give_way() -> None:
    """Five squares of 10 in 50: the third lies 0.6 into the fourth, the gaps are elsewhere."""
    warm_up()
    at = (0.0, 10.3, 20.6, 30.0, 40.0)
    tight = Bench(10, *((SQUARE, x, 0.0) for x in at))
    found = tight.pressed()
    assert found is not None
    assert tight.length(found) == pytest.approx(50.0, abs=1e-3)
    laid = tight.laid(found)
    assert max(one.intersection(two).area for one, two in pairwise(laid)) < 1e-2


@pytest.mark.slow
def test_more_than_one_step_can_part_is_parted_in_several() -> None:
    """Each square lies 0.5 into the next: the last must give way by 2, a step allows 0.32."""
    warm_up()
    tight = Bench(10, *((SQUARE, 9.5 * k, 0.0) for k in range(5)))
    found = tight.pressed()
    assert found is not None
    assert tight.length(found) == pytest.approx(50.0, abs=1e-3)
    laid = tight.laid(found)
    assert max(one.intersection(two).area for one, two in pairwise(laid)) < 1e-2


@pytest.mark.slow
def test_what_cannot_be_moved_apart_in_a_few_steps_is_left() -> None:
    warm_up()
    upon = Bench(10, (SQUARE, 0.0, 0.0), (SQUARE, 0.0, 0.0), (SQUARE, 12.0, 0.0))
    assert upon.pressed() is None


@pytest.mark.slow
def test_pieces_beyond_the_metal_are_brought_in_first() -> None:
    warm_up()
    out = Bench(10, (SQUARE, -3.0, 0.0), (SQUARE, 11.0, 4.0), (SQUARE, 22.0, -5.0))
    found = out.pressed()
    assert found is not None
    assert out.length(found) == pytest.approx(30.0, abs=1e-3)
    for outline in out.laid(found):
        x0, y0, _, y1 = outline.bounds
        assert min(x0, y0, 10.0 - y1) > -1e-3


@pytest.mark.slow
def test_nothing_is_pressed_any_more_when_told_to_stop() -> None:
    warm_up()
    apart = Bench(10, *((SQUARE, 10.5 * k, 0.0) for k in range(3)))
    assert (
        apart.press.pressed(apart.strip, np.ones(1, dtype=np.int64), apart.pose, apart.form) is None
    )
