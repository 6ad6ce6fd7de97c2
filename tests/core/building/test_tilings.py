"""Tiles: together they are the whole, and what two of them share is the very same line."""

from __future__ import annotations

import itertools
import math
from collections import Counter

import pytest
import shapely
from shapely.geometry import Polygon

from studio.core.building import RecipeError
from studio.core.building.kinds import TILES
from studio.core.building.shapes import disc, rectangle
from studio.core.building.tilings import block, within

from .recipes import built, read, read_back

NAMES = [name for name, _ in TILES]
AREAS = {
    "triangles": math.sqrt(3) / 4,
    "squares": 1.0,
    "hexagons": 3 * math.sqrt(3) / 2,
    "scales": 1.0,
    "twists": 1.0,
}
"""Of a tile whose side is 1: what a bent edge takes from one tile it gives to the next."""


def edges(tiles: list[Polygon]) -> Counter[frozenset[tuple[float, float]]]:
    counted: Counter[frozenset[tuple[float, float]]] = Counter()
    for tile in tiles:
        points = list(tile.exterior.coords)
        counted.update(frozenset(pair) for pair in itertools.pairwise(points))
    return counted


def assert_shared_exactly(tiles: list[Polygon]) -> None:
    """Every edge is one tile's alone, on the rim, or two tiles' to the last bit."""
    counted = edges(tiles)
    assert set(counted.values()) <= {1, 2}
    whole = shapely.union_all(tiles)
    rim = sum(math.dist(*edge) for edge, times in counted.items() if times == 1)
    assert rim == pytest.approx(whole.length, abs=1e-6)


@pytest.mark.parametrize("tile", NAMES)
def test_a_block_of_tiles_shares_every_inner_edge(tile: str) -> None:
    tiles = block(tile, 8, 4, 3)
    assert len(tiles) == 12
    assert all(each.is_valid for each in tiles)
    for each in tiles:
        assert each.area == pytest.approx(AREAS[tile] * 64, rel=1e-9)
    assert shapely.union_all(tiles).area == pytest.approx(12 * AREAS[tile] * 64, rel=1e-9)
    assert_shared_exactly(tiles)


@pytest.mark.parametrize("tile", NAMES)
@pytest.mark.parametrize("outline", [disc(40), rectangle(37, 23, 4)], ids=["disc", "box"])
def test_tiles_cut_at_an_outline_fill_it_and_share_their_edges(tile: str, outline: Polygon) -> None:
    tiles = within(tile, 8, outline, cut=True)
    left_out = outline.area - sum(each.area for each in tiles)
    assert -1e-6 < left_out < 0.02 * AREAS[tile] * 64 * len(tiles)  # crumbs on the rim
    counted = edges(tiles)
    assert set(counted.values()) <= {1, 2}
    assert shapely.union_all(tiles).difference(outline).area < 1e-6


@pytest.mark.parametrize("tile", NAMES)
def test_whole_tiles_only_lie_inside_and_are_all_alike(tile: str) -> None:
    tiles = within(tile, 6, disc(40), cut=False)
    assert tiles
    assert {round(each.area, 6) for each in tiles} == {round(AREAS[tile] * 36, 6)}
    assert disc(40).covers(shapely.union_all(tiles))


@pytest.mark.parametrize("tile", NAMES)
def test_tiles_share_their_edges_after_turning_writing_and_reading(tile: str) -> None:
    drawing = read(
        {"kind": "tiling", "tile": tile, "columns": 3, "rows": 2, "side": 12, "turn": 17, "x": 3}
    )
    assert len(drawing.pieces) == 6
    assert_shared_exactly([piece.outline for piece in drawing.pieces])


def test_the_metal_so_far_is_split_into_tiles_without_loss() -> None:
    whole = read({"kind": "heart", "width": 50, "height": 46})
    tiled, findings = read_back(
        built(
            {"kind": "heart", "width": 50, "height": 46},
            {"kind": "tiling", "tile": "scales", "within": "metal", "side": 12, "turn": 20},
        )
    )
    assert len(tiled.pieces) > 8
    assert tiled.area_mm2 == pytest.approx(whole.area_mm2, rel=0.01)
    assert not findings


def test_too_many_tiles_are_refused_in_words() -> None:
    with pytest.raises(RecipeError, match="more than 400 tiles"):
        built({"kind": "tiling", "within": "disc", "width": 600, "side": 2})
