"""Where a piece lies after its pattern was changed."""

from __future__ import annotations

from typing import Any

import pytest
from shapely import from_wkt
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Polygon, box

from studio.core.laying_out.carried import carried

BAR = box(0, 0, 30, 10)


def lies(placed: dict[str, Any], outline: str) -> Polygon:
    shape = from_wkt(outline)
    if placed["mirror"]:
        shape = scale(shape, xfact=-1, origin=(0, 0))
    turned = rotate(shape, placed["turn_deg"], origin=(0, 0))
    return translate(turned, placed["x_mm"], placed["y_mm"])


@pytest.mark.parametrize(("turn", "mirror"), [(0, False), (90, False), (37.5, True)])
def test_what_was_drawn_elsewhere_keeps_its_middle(turn: float, mirror: bool) -> None:
    placed = {"turn_deg": turn, "mirror": mirror, "x_mm": 40.0, "y_mm": 20.0}
    other = box(100, 60, 106, 68).wkt
    now = carried(placed, BAR.wkt, other)
    was, is_now = lies(placed, BAR.wkt).centroid, lies(now, other).centroid
    assert (is_now.x, is_now.y) == pytest.approx((was.x, was.y), abs=0.001)


def test_what_was_only_corrected_keeps_its_other_sides() -> None:
    placed = {"turn_deg": 0, "mirror": False, "x_mm": 0.0, "y_mm": 0.0}
    assert carried(placed, BAR.wkt, box(0, 0, 33, 10).wkt) == placed
