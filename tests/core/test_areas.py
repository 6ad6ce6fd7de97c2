"""Uniting areas and taking them apart loses nothing, however their outlines touch."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import affinity, wkt
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from studio.core import areas
from studio.core.areas import AreaLost, common, joined, united, without

SIDE = 200.0
SQUARE = box(0, 0, SIDE, SIDE)
# They tile the square; their plain union has 35,866 mm² with GEOS 3.14.1.
TILES = [
    wkt.loads(f"POLYGON (({ring}))")
    for ring in (
        "142.8 0, 110 200, 200 200, 200 0, 142.8 0",
        "24.4 0, 110 200, 142.8 0, 24.4 0",
        "110 200, 0 30.799999999999983, 0 200, 110 200",
        "110 200, 24.400000000000002 0, 0 0, 0 30.799999999999983, 110 200",
    )
]
REAL = {name: getattr(shapely, name) for name in ("union_all", "union", "intersection")}


def test_four_pieces_that_tile_a_square_unite_to_the_square() -> None:
    assert united(TILES).area == pytest.approx(SIDE * SIDE, abs=1e-3)
    assert united(TILES).symmetric_difference(SQUARE).area < 1e-3


def _dissected(chance: np.random.Generator, count: int) -> list[Polygon]:
    """A square cut along straight lines from rim to rim, its rings begun anywhere, turned and
    shifted: T-shaped meetings at fractions, where outlines touch all but exactly."""
    parts = [SQUARE]
    while len(parts) < count:
        part = parts.pop(int(chance.integers(len(parts))))
        ring = np.asarray(part.exterior.coords[:-1])
        starts = chance.choice(len(ring), 2, replace=False)
        at = [
            ring[k] + chance.choice([0.0, round(chance.uniform(0.1, 0.9), 1)]) * step
            for k, step in zip(starts, (np.roll(ring, -1, axis=0) - ring)[starts], strict=True)
        ]
        way = at[1] - at[0]
        if np.hypot(*way) < 1.0:
            parts.append(part)
            continue
        cut = list(split(part, LineString([at[0] - way, at[1] + way])).geoms)
        parts += cut if min(one.area for one in cut) > 20.0 else [part]  # type: ignore[arg-type]
    turn = float(chance.choice([0.0, 30.0, 45.0, chance.uniform(0, 360)]))
    shift = chance.uniform(-50, 50, 2) * (turn != 0.0)
    begun = []
    for part in parts:
        ring = np.asarray(part.exterior.coords[:-1])
        begun.append(Polygon(np.roll(ring, int(chance.integers(len(ring))), axis=0)))
    return [affinity.translate(affinity.rotate(one, turn, (0, 0)), *shift) for one in begun]


def test_random_dissections_of_a_square_unite_to_it_and_come_apart_again() -> None:
    chance = np.random.default_rng(1)  # its ninetieth loses a piece of the plain union
    for _ in range(100):
        parts = _dissected(chance, int(chance.integers(3, 9)))
        whole = sum(part.area for part in parts)
        assert whole == pytest.approx(SIDE * SIDE, abs=1e-3)
        assert united(parts).area == pytest.approx(whole, abs=1e-3)
        k = int(chance.integers(1, len(parts)))
        one, other = united(parts[:k]), united(parts[k:])
        assert without(one, other).area == pytest.approx(one.area, abs=1e-3)
        assert common(one, other).area == pytest.approx(0.0, abs=1e-3)
        assert joined(one, other).area == pytest.approx(whole, abs=1e-3)


@pytest.mark.parametrize("grown", [0.0, 0.3, 5.0])
def test_without_fault_the_plain_result_stands_to_the_last_digit(grown: float) -> None:
    chance = np.random.default_rng(5)
    discs = [
        shapely.Point(*chance.uniform(0, 100, 2)).buffer(chance.uniform(2, 9) + grown)
        for _ in range(30)
    ]
    whole = shapely.union_all(discs)
    assert united(discs).wkb == whole.wkb
    assert without(SQUARE, whole).wkb == SQUARE.difference(whole).wkb
    assert common(SQUARE, whole).wkb == SQUARE.intersection(whole).wkb
    assert joined(discs[0], discs[1]).wkb == shapely.union(discs[0], discs[1]).wkb


def test_nothing_united_is_nothing_and_nothing_taken_away_leaves_all() -> None:
    assert united([]).is_empty
    assert without(SQUARE, united([])).equals(SQUARE)
    assert without(Polygon(), SQUARE).is_empty


def _losing(name: str, lost: Callable[[dict[str, Any]], bool]) -> Callable[..., BaseGeometry]:
    """An operation that forgets half of what it finds, where `lost` says so of its options."""

    def operation(*shapes: Any, **options: Any) -> BaseGeometry:
        found: BaseGeometry = REAL[name](*shapes, **options)
        if not lost(options):
            return found
        x0, y0, x1, y1 = found.bounds
        half: BaseGeometry = REAL["intersection"](found, box(x0, y0, (x0 + x1) / 2, y1))
        return half

    return operation


OVERLAPPING = [box(0, 0, 20, 20), box(10, 0, 30, 20), box(20, 0, 40, 20)]


def test_what_the_plain_way_loses_the_grid_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[dict[str, Any]] = []

    def first_only(options: dict[str, Any]) -> bool:
        calls.append(options)
        return len(calls) == 1

    monkeypatch.setattr(shapely, "union_all", _losing("union_all", first_only))
    assert united(OVERLAPPING).area == pytest.approx(800.0)
    assert calls[-1] == {"grid_size": areas.GRID_MM}


def test_a_fault_in_the_second_reckoning_leaves_the_plain_result(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    calls: list[dict[str, Any]] = []

    def second_only(options: dict[str, Any]) -> bool:
        calls.append(options)
        return len(calls) == 2

    plain = shapely.union_all(OVERLAPPING)
    monkeypatch.setattr(shapely, "union_all", _losing("union_all", second_only))
    assert united(OVERLAPPING).wkb == plain.wkb


def test_where_no_two_reckonings_agree_no_area_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    left = iter((0.9, 0.8, 0.7, 0.6, 0.5, 0.4))

    def less_each_time(*shapes: Any, **options: Any) -> BaseGeometry:
        share = next(left)
        found: BaseGeometry = REAL["union_all"](*shapes, **options)
        return affinity.scale(found, share, share)

    monkeypatch.setattr(shapely, "union_all", less_each_time)
    monkeypatch.setattr(shapely, "union", less_each_time)
    monkeypatch.setitem(REAL, "union_all", lambda *shapes, **_: box(0, 0, 40, 20))
    with pytest.raises(AreaLost):
        united(OVERLAPPING)


def test_two_that_agree_on_less_than_the_largest_part_are_not_believed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(shapely, "union_all", lambda *_, **__: Polygon())
    monkeypatch.setattr(shapely, "union", lambda *_, **__: Polygon())
    with pytest.raises(AreaLost):
        united(OVERLAPPING)
