"""`manage.py bench_layout_table`: its sheet, and how it tells a frame from the next."""

from __future__ import annotations

import random
from itertools import combinations
from typing import Any

import pytest
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from studio.loading.dragging import spread
from studio.loading.full_sheet import PIECES, POINTS, SHEET, lobed, spots
from studio.loading.tracing import CALLED, FRAME, TASK, Frame, Trace

GAP_MM = 1.0


def test_the_sheet_is_full_of_pieces_that_keep_their_gap() -> None:
    laid: list[Polygon] = []
    for number, spot in enumerate(spots(random.Random(1))):
        outline = lobed(number)
        assert outline.is_valid
        assert len(outline.exterior.coords) == POINTS + 1
        turned = rotate(outline, spot["turn_deg"], origin=(0, 0))
        laid.append(translate(turned, spot["x_mm"], spot["y_mm"]))
    assert len(laid) == PIECES
    assert all(SHEET.buffer(-GAP_MM).contains(one) for one in laid)
    assert all(one.distance(other) >= GAP_MM for one, other in combinations(laid, 2))


def _event(name: str, at: float, ms: float = 0.0, thread: int = 1, **more: Any) -> dict[str, Any]:
    event = {"name": name, "ts": at * 1000, "dur": ms * 1000, "pid": 1, "tid": thread, "ph": "X"}
    return event | {"args": {}} | more


def test_a_frame_is_all_that_was_done_without_a_rest_until_it_was_there() -> None:
    found = Trace(
        [
            _event("begun", 0, ph="I"),
            _event(TASK, 10, 4, tdur=3000),  # a pointer came down, and at once
            _event(TASK, 14, 6, tdur=5000),  # a frame was made
            _event(FRAME, 15, 4),
            _event(CALLED, 16, 1),
            _event(TASK, 20.5, 2, tdur=2000),  # no part of it, and of no other
            _event(TASK, 30, 5, tdur=5000),
            _event(FRAME, 31, 3),
            _event(TASK, 12, 500, thread=2),  # another thread keeps nobody waiting
            _event("over", 40, ph="I"),
            _event(TASK, 41, 90, tdur=90_000),
        ]
    ).frames("begun", "over")
    assert found == [
        Frame(10, 8, is_drawn=True),
        Frame(2, 2, is_drawn=False),
        Frame(5, 5, is_drawn=True),
    ]


def test_middle_p95_and_worst() -> None:
    assert spread([float(n) for n in range(100)]) == (50, 95, 99)
    assert spread([3.0]) == (3, 3, 3)
    assert spread([]) == pytest.approx((float("nan"),) * 3, nan_ok=True)
