"""From inked paper to a neater line: rendered paper whose truth is known, through the reader."""

from __future__ import annotations

import numpy as np
import pytest

from studio.core.correcting import corrected
from studio.core.drawing import Limits
from studio.core.mending import mends
from studio.core.reading import Tracing, read_pattern

from .hand import Points, ellipse, leaf, polygon
from .paper import TAG, hand_drawn, ruler_drawn, scan_of


def read(data: bytes) -> Tracing:
    return read_pattern(data, filename="a.png", dpi=300)


def test_what_a_hand_drew_is_mended_to_near_what_it_meant() -> None:
    drawn = read(hand_drawn())
    found = {mend.code: mend for mend in mends(drawn, {}, Limits())}
    assert {"straight", "circle"} <= set(found)
    straight, circle = found["straight"], found["circle"]
    after = np.array(corrected(drawn, straight.changes).lines[int(straight.lines[0]) - 1].points)
    assert len(after) == 4
    for corner in TAG:
        assert np.hypot(*(after - corner).T).min() < 0.4
    round_ = circle.changes[0].round
    assert round_ is not None
    assert (round_.x_mm, round_.y_mm) == pytest.approx((25, 25), abs=0.15)
    assert round_.diameter_mm == pytest.approx(14, abs=0.2)


def test_what_was_drawn_with_ruler_and_stencil_gets_no_advice() -> None:
    assert mends(read(ruler_drawn()), {}, Limits()) == ()


@pytest.mark.parametrize(
    ("outline", "window"),
    [
        (polygon([(10, 10), (60, 13), (60, 37), (10, 40)]), ellipse(25, 25, 8, 5, 0.5)),
        (polygon([(10, 10), (55, 10), (62, 40), (17, 40)]), ellipse(30, 25, 6, 6)),
        (leaf() + np.array((10.0, 30.0)), polygon([(22, 26), (32, 26), (32, 33), (22, 33)])),
    ],
    ids=["tapering tag", "leaning tag", "leaf"],
)
def test_exact_ink_gets_no_advice(outline: Points, window: Points) -> None:
    assert mends(read(scan_of(outline, window, seed=5)), {}, Limits()) == ()
