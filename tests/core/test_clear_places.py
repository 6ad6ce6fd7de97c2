"""Numbers and letters stand where they hide nothing."""

from __future__ import annotations

from itertools import combinations

from shapely.geometry import Point, box

from studio.core.picturing.clear_places import clear_places

WINDOWS = box(0, 0, 6, 6).union(box(8, 0, 14, 6))


def test_a_number_in_a_window_moves_out_to_the_nearest_place() -> None:
    (place,) = clear_places([Point(3, 3)], 2.0, WINDOWS)
    assert not place.buffer(1.99).intersects(WINDOWS)
    assert place.distance(Point(3, 3)) < 8.0


def test_a_number_that_hides_nothing_stays() -> None:
    assert clear_places([Point(20, 3)], 2.0, WINDOWS) == [Point(20, 3)]


def test_numbers_do_not_lie_on_each_other_or_on_a_label() -> None:
    label = (Point(3, -4), 2.0)
    places = clear_places([Point(3, 3)] * 8 + [Point(11, 3)] * 8, 2.0, WINDOWS, taken=[label])
    for one, other in combinations([*places, label[0]], 2):
        assert one.distance(other) >= 4.0
    assert not any(place.buffer(1.99).intersects(WINDOWS) for place in places)
