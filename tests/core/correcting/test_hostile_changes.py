"""Whatever JSON a browser sends is a change or a refusal in words, and lines stay sound."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from studio.core.correcting import (
    CannotChange,
    change_from_json,
    change_to_json,
    corrected,
    gaps,
)
from studio.core.reading import Tracing, assemble

from .making import SQUARE, hole, line, tracing

READ = tracing(
    line(1, [(-30, -30), (40, -30), (40, 40), (-30, 40)]),
    line(2, SQUARE),
    line(3, [(-20, -20), (-10, -20), (-10, -10)], closed=False),
    line(4, [(-10.2, -9.5), (-20, -10), (-20, -19)], closed=False),
    hole(5, 30, 30, 1.5),
)
KINDS = [
    "redraw",
    "move-point",
    "add-point",
    "remove-point",
    "move-line",
    "join",
    "diameter",
    "new-hole",
    "name",
]
anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=12,
)
number = st.floats(-60, 60) | st.integers(-60, 60) | st.floats()
spot = st.tuples(number, number) | anything
line_id = st.sampled_from(["1", "2", "3", "4", "5", "6", "7"]) | anything
end = st.sampled_from(["first", "last"])
likely = st.fixed_dictionaries(
    {"do": st.sampled_from(KINDS)},
    optional={
        "line": line_id,
        "other": line_id,
        "end": end,
        "other_end": end,
        "index": st.integers(0, 8) | anything,
        "after": st.integers(0, 8) | anything,
        "to": spot,
        "at": spot,
        "by": spot,
        "reach_mm": number,
        "diameter_mm": number,
        "points": st.lists(spot, max_size=6) | anything,
        "closed": st.booleans() | anything,
        "round": st.none() | st.tuples(number, number, number) | anything,
        "why": st.sampled_from(["straighten", ""]) | anything,
        "labels": st.dictionaries(st.text(max_size=3), st.sampled_from(["", "window", "ignore"]))
        | anything,
    },
)


@given(data=anything | likely)
def test_any_json_is_a_change_or_a_refusal(data: Any) -> None:
    try:
        change = change_from_json(data)
    except CannotChange:
        return
    assert change_from_json(change_to_json(change)) == change


@given(sent=st.lists(likely, max_size=8))
def test_whatever_is_put_on_leaves_lines_that_can_be_read(sent: list[Any]) -> None:
    after = READ
    for data in sent:
        try:
            after = corrected(after, [change_from_json(data)])
        except CannotChange:
            continue
    for each in after.lines:
        assert len(each.points) >= (3 if each.closed else 2)
        assert all(math.isfinite(x) and math.isfinite(y) for x, y in each.points)
        assert each.round is None or each.closed
    assert len({each.id for each in after.lines}) == len(after.lines)
    assert Tracing.from_json(after.to_json()) == after
    assembly = assemble(after)
    gaps(after, {each: str(label) for each, label in assembly.labels.items()})
