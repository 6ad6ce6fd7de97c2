"""Whose turn it is on metal that is passed on: from the open edge inwards.

The expected orders follow from where the pieces lie, as said at each; the rule itself is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from studio.core.cutting import Job, Placement
from studio.core.cutting.job import Stock, Wanted
from studio.core.picturing.turns import shared_stock, turns_of

SQUARE = Polygon(box(0, 0, 10, 10).exterior)

Laid = tuple[str, str, float, float]
"""Group, stock piece, and where its lower left corner lies."""


def job_of(laid: Sequence[Laid], outlines: dict[int, Polygon] | None = None) -> Job:
    metal = sorted({code for _, code, _, _ in laid})
    return Job(
        tuple(Stock(code, box(0, 0, 100, 60)) for code in metal),
        tuple(
            Wanted(f"{n}/1", (outlines or {}).get(n, SQUARE), group=group)
            for n, (group, _, _, _) in enumerate(laid)
        ),
    )


def order(laid: Sequence[Laid], outlines: dict[int, Polygon] | None = None) -> tuple[str, ...]:
    placements = [
        Placement(f"{n}/1", 0, code, False, 0.0, x, y) for n, (_, code, x, y) in enumerate(laid)
    ]
    return turns_of(job_of(laid, outlines), placements)


def test_who_lies_at_the_edge_comes_before_who_lies_in_the_middle() -> None:
    """The middle of the square in the middle is 30 mm from the nearest edge, the others' 7."""
    assert order([("inner", "a", 45, 25), ("outer", "a", 2, 25)]) == ("outer", "inner")


def test_of_two_alike_the_jobs_order_decides() -> None:
    assert order([("b", "a", 2, 25), ("a", "a", 88, 25)]) == ("b", "a")


def test_who_would_cut_the_metal_in_two_comes_later() -> None:
    """A bar over the whole height is nearest to the edge by its middle, and parts the others."""
    bar = Polygon(box(0, 0, 4, 59).exterior)
    laid = [("bar", "a", 30, 0.5), ("left", "a", 12, 25), ("right", "a", 60, 25)]
    assert order(laid, {0: bar}).index("bar") > 0


def test_who_lies_in_a_window_comes_before_its_owner() -> None:
    frame = Polygon(box(0, 0, 40, 40).exterior.coords, [box(8, 8, 32, 32).exterior.coords])
    laid = [("frame", "a", 1, 1), ("inside", "a", 15, 15)]
    assert order(laid, {0: frame}) == ("inside", "frame")


def test_who_has_a_stock_piece_alone_has_no_turn() -> None:
    laid = [("a", "one", 2, 2), ("b", "one", 40, 2), ("c", "two", 2, 2)]
    assert set(order(laid)) == {"a", "b"}
    placements = [
        Placement(f"{n}/1", 0, code, False, 0.0, x, y) for n, (_, code, x, y) in enumerate(laid)
    ]
    assert shared_stock(job_of(laid), placements) == {"one": frozenset({"a", "b"})}


def test_nobody_shares_nothing() -> None:
    assert order([("a", "one", 2, 2)]) == ()


@given(
    st.lists(
        st.tuples(st.sampled_from("abcde"), st.sampled_from(["one", "two"])),
        min_size=1,
        max_size=10,
    )
)
def test_everybody_who_shares_has_one_turn_and_all_of_one_order(
    who: list[tuple[str, str]],
) -> None:
    """One order for the plan, however many stock pieces: nobody waits for whom they keep waiting.

    Handing on in this order, the first who is not done always may have all own metal.
    """
    laid = [
        (group, code, 2.0 + 14.0 * (n % 6), 2.0 + 20.0 * (n // 6))
        for n, (group, code) in enumerate(who)
    ]
    found = order(laid)
    on: dict[str, set[str]] = {}
    for group, code in who:
        on.setdefault(code, set()).add(group)
    shared = [groups for groups in on.values() if len(groups) > 1]
    assert sorted(found) == sorted(set().union(*shared)) if shared else found == ()
    waiting = {n: [g for g in found if g in groups] for n, groups in enumerate(shared)}
    done: list[str] = []
    while any(waiting.values()):
        able = [
            group
            for group in found
            if group not in done
            and all(queue[0] == group for queue in waiting.values() if group in queue)
        ]
        assert able, "everybody waits for somebody"
        done.append(able[0])
        waiting = {n: [g for g in queue if g != able[0]] for n, queue in waiting.items()}


@pytest.mark.parametrize("flip", [False, True])
def test_the_order_does_not_depend_on_where_the_drawing_begins(flip: bool) -> None:
    """Mirrored left to right the metal is the same."""
    places = [(2.0, 25.0), (24.0, 25.0), (45.0, 25.0)]
    laid = [
        (name, "a", 90.0 - x if flip else x, y)
        for name, (x, y) in zip(("edge", "next", "middle"), places, strict=True)
    ]
    assert order(laid) == ("edge", "next", "middle")
