"""A drawing larger than the page is divided so that nothing is lost and the sheets join."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from studio.prints.paper.sizes import Area
from studio.prints.paper.tiling import OVERLAP_MM, tile

sides = st.floats(1.0, 900.0)
areas = st.builds(Area, st.floats(60.0, 250.0), st.floats(60.0, 250.0))


def test_what_fits_is_one_tile_without_seams() -> None:
    tiling = tile(100.0, 80.0, Area(170.0, 200.0))
    assert tiling.is_one
    assert tiling.seams_x == tiling.seams_y == tiling.marks == ()
    assert tiling.tiles[0].name == "A1"


def test_rows_have_letters_and_columns_numbers() -> None:
    tiling = tile(300.0, 300.0, Area(170.0, 200.0))
    assert [t.name for t in tiling.tiles] == ["A1", "A2", "B1", "B2"]
    assert dict(tiling.tiles[3].neighbours) == {"left": "B1", "above": "A2"}


def test_the_twenty_seventh_row_is_called_aa() -> None:
    tiling = tile(50.0, 27 * 50.0 + 10, Area(60.0, 60.0))
    assert tiling.tiles[26].name == "AA1"


@given(sides, sides, areas)
def test_tiles_cover_the_drawing_fit_the_page_and_overlap(
    width: float, height: float, area: Area
) -> None:
    tiling = tile(width, height, area)
    boxes = [box(t.x, t.y, t.x + t.width_mm, t.y + t.height_mm) for t in tiling.tiles]
    assert shapely.union_all(boxes).buffer(1e-6).covers(box(0, 0, width, height))
    for t in tiling.tiles:
        assert t.width_mm <= area.width_mm + 1e-6
        assert t.height_mm <= area.height_mm + 1e-6
    by_name = {t.name: t for t in tiling.tiles}
    for t in tiling.tiles:
        for side, name in t.neighbours:
            if side == "right":
                assert t.x + t.width_mm - by_name[name].x == pytest.approx(OVERLAP_MM)
            if side == "below":
                assert t.y + t.height_mm - by_name[name].y == pytest.approx(OVERLAP_MM)


@given(sides, sides, areas)
def test_every_register_mark_is_on_two_tiles_at_least(
    width: float, height: float, area: Area
) -> None:
    tiling = tile(width, height, area)
    for x, y in tiling.marks:
        assert sum(t.holds(x, y) for t in tiling.tiles) >= 2


def test_a_page_without_room_is_refused() -> None:
    with pytest.raises(ValueError, match="no room"):
        tile(100.0, 100.0, Area(OVERLAP_MM, 100.0))
