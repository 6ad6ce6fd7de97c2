"""Rectangles by cuts from edge to edge: published instances, and cases to be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from studio.core.placing.parting.guillotine import (
    Bin,
    Item,
    Packer,
    Packing,
    Rect,
    Rules,
    Size,
    Way,
)

# Christofides & Whitlock, "An algorithm for two-dimensional cutting problems", Operations
# Research 25 (1977), first problem of table 2: a sheet of 15 by 10, pieces as width, height, how
# many at most and value, not to be turned. The optimum is 244.
SHEET_77 = (15.0, 10.0)
PIECES_77 = (
    (8, 4, 2, 66),
    (3, 7, 1, 35),
    (8, 2, 3, 24),
    (3, 4, 5, 17),
    (3, 3, 2, 11),
    (3, 2, 2, 8),
    (2, 1, 1, 2),
)
OPTIMUM_77 = 244

# Beasley, "Algorithms for unconstrained two-dimensional guillotine cutting", Journal of the
# Operational Research Society 36 (1985), second problem: a sheet of 250 by 250, as many of each
# piece as are wanted, each worth its area. The optimum, 60536, is from memory; the test finds it
# again by Gilmore & Gomory's recursion.
SIDE_85 = 250
PIECES_85 = (
    *((120, 133), (135, 186), (86, 75), (103, 73), (66, 85), (135, 97), (91, 175)),
    *((131, 176), (71, 176), (153, 72), (87, 148), (168, 107), (118, 90), (140, 109)),
    *((132, 159), (152, 93), (135, 68), (121, 158), (68, 94), (155, 76)),
)
OPTIMUM_85 = 60536


def value_of(packing: Packing, values: list[float]) -> float:
    return sum(values[one.item] for one in packing.laid)


def best_value(packer: Packer, values: list[float], tries: int) -> float:
    """The most that packings in random orders are worth, each checked on the way."""
    chance = np.random.default_rng(77)
    most = 0.0
    way = packer.first_way()
    best_way = way
    for _ in range(tries):
        packing = packer.pack(way, chance)
        assert_sound(packer, packing)
        found = value_of(packing, values)
        if found >= most:
            most, best_way = found, way
        way = packer.varied(best_way, chance)
    return most


def assert_sound(packer: Packer, packing: Packing) -> None:
    """Nothing overlaps, all lies within its bin, and the cuts make the very parts."""
    parts: dict[tuple[int, int], Rect] = {}
    for number, own in enumerate(packer.bins):
        parts[number, 0] = Rect(number, 0, 0.0, 0.0, own.wide, own.high)
    for slit in packing.slits:
        whole = parts.pop((slit.bin, slit.part))
        half = 0.5 * packer.rules.kerf
        near, far = slit.at - half, slit.at + half
        if slit.upright:
            assert whole.x < slit.at < whole.x + whole.wide
            own = Rect(slit.bin, slit.own, whole.x, whole.y, near - whole.x, whole.high)
            right = whole.x + whole.wide
            rest = Rect(slit.bin, slit.rest, far, whole.y, right - far, whole.high)
        else:
            assert whole.y < slit.at < whole.y + whole.high
            own = Rect(slit.bin, slit.own, whole.x, whole.y, whole.wide, near - whole.y)
            top = whole.y + whole.high
            rest = Rect(slit.bin, slit.rest, whole.x, far, whole.wide, top - far)
        parts[slit.bin, own.part], parts[slit.bin, rest.part] = own, rest
    taken = [(one.rect.bin, one.rect.part) for one in packing.laid]
    assert len(set(taken)) == len(taken)
    for one in packing.laid:
        part = parts[one.rect.bin, one.rect.part]
        assert (one.rect.x, one.rect.y) == pytest.approx((part.x, part.y))
        assert (one.rect.wide, one.rect.high) == pytest.approx((part.wide, part.high))
        assert part.wide >= one.size.wide - 1e-6
        assert part.high >= one.size.high - 1e-6


def test_the_published_optimum_of_1977_is_reached_and_never_beaten() -> None:
    items, values = [], []
    for wide, high, most, value in PIECES_77:
        items += [Item((Size(wide, high),), wide * high)] * most
        values += [float(value)] * most
    packer = Packer([Bin(*SHEET_77)], items, Rules())
    found = best_value(packer, values, tries=1500)
    assert 0.97 * OPTIMUM_77 <= found <= OPTIMUM_77


def test_the_published_optimum_of_1985_is_nearly_reached_and_never_beaten() -> None:
    optimum = by_recursion(SIDE_85, PIECES_85)
    assert optimum == OPTIMUM_85
    items, values = [], []
    for wide, high in PIECES_85:
        most = (SIDE_85 // wide) * (SIDE_85 // high)
        items += [Item((Size(wide, high),), wide * high)] * most
        values += [float(wide * high)] * most
    packer = Packer([Bin(SIDE_85, SIDE_85)], items, Rules())
    found = best_value(packer, values, tries=600)
    assert 0.95 * optimum <= found <= optimum


def by_recursion(side: int, pieces: tuple[tuple[int, int], ...]) -> int:
    """Gilmore & Gomory 1965: a rectangle is worth a piece, or its two parts by the best cut."""
    worth = np.zeros((side + 1, side + 1), dtype=np.int64)
    for wide, high in pieces:
        worth[wide:, high:] = np.maximum(worth[wide:, high:], wide * high)
    for wide in range(1, side + 1):
        for high in range(1, side + 1):
            upright = worth[: wide + 1, high] + worth[wide::-1, high]
            level = worth[wide, : high + 1] + worth[wide, high::-1]
            worth[wide, high] = max(upright.max(), level.max())
    return int(worth[side, side])


def test_three_equal_blanks_fill_a_strip_by_two_cuts() -> None:
    packer = Packer([Bin(60, 20)], [Item((Size(20, 20),), 400.0)] * 3, Rules())
    packing = packer.pack(packer.first_way())
    assert not packing.left
    assert sorted(slit.at for slit in packing.slits) == [20.0, 40.0]
    assert all(slit.upright for slit in packing.slits)
    assert packing.cost == pytest.approx(1200.0)


def test_a_sheet_holds_four_blanks_exactly_with_the_kerf_between_them() -> None:
    kerf = 0.3
    items = [Item((Size(30, 20),), 600.0)] * 4
    exact = Packer([Bin(60 + kerf, 40 + kerf)], items, Rules(kerf=kerf))
    packing = exact.pack(exact.first_way())
    assert (len(packing.laid), len(packing.slits)) == (4, 3)
    less = Packer([Bin(60 + kerf - 0.01, 40 + kerf)], items, Rules(kerf=kerf))
    assert len(less.pack(less.first_way()).left) == 2


def test_a_cut_that_the_shear_is_too_short_for_is_not_made() -> None:
    items = [Item((Size(40, 30),), 1200.0)] * 2
    # upright cuts are 60 long, level ones 100
    upright = Packer([Bin(100, 60)], items, Rules(longest=60.0))
    slits = upright.pack(upright.first_way()).slits
    assert slits[0].upright
    # no cut through the whole sheet can be made: one item gets all of it
    none = Packer([Bin(100, 60)], items, Rules(longest=59.0))
    packing = none.pack(none.first_way())
    assert (len(packing.laid), packing.slits) == (1, [])


def test_the_saw_frame_reaches_along_an_edge_but_not_into_the_middle() -> None:
    # an upright cut of 200 is out of reach in the middle (100 deep), not 50 from the left edge
    item = Item((Size(50, 200),), 10_000.0)
    near = Packer([Bin(400, 200)], [item], Rules(throat=50.0))
    assert len(near.pack(near.first_way()).slits) == 1
    wide = Packer([Bin(400, 200)], [Item((Size(60, 200),), 12_000.0)], Rules(throat=50.0))
    packing = wide.pack(wide.first_way())
    assert (len(packing.laid), packing.slits) == (1, [])


def test_no_part_is_narrower_than_a_cut_may_leave() -> None:
    # 10 would be left of 60: the blank gets all the width
    packer = Packer([Bin(60, 40)], [Item((Size(50, 40),), 2000.0)], Rules(least=15.0))
    packing = packer.pack(packer.first_way())
    assert packing.slits == []
    assert packing.laid[0].rect.wide == 60.0
    # a blank of 8 is made 15 wide
    small = Packer([Bin(60, 40)], [Item((Size(8, 40),), 320.0)], Rules(least=15.0))
    assert small.pack(small.first_way()).laid[0].rect.wide == 15.0


def test_cheap_metal_comes_first_and_small_before_large() -> None:
    bins = [Bin(100, 100), Bin(50, 50), Bin(50, 50, price=0.5)]
    packer = Packer(bins, [Item((Size(40, 40),), 1600.0)], Rules())
    assert packer.pack(packer.first_way()).laid[0].rect.bin == 2


def test_a_size_for_another_frame_is_not_used() -> None:
    only = Size(20, 20, kind=1)
    packer = Packer([Bin(60, 20)], [Item((only,), 400.0)], Rules())
    assert packer.pack(Way((0,), (0,))).left == [0]
    fits = Packer([Bin(60, 20, kinds=frozenset((1,)))], [Item((only,), 400.0)], Rules())
    assert fits.pack(Way((0,), (0,))).left == []


def test_dear_cuts_are_left_out_where_metal_is_cheap() -> None:
    item = Item((Size(20, 40),), 800.0)
    cheap = Packer([Bin(60, 40)], [item], Rules(keep_wide=12.0, keep_area=600.0))
    assert len(cheap.pack(cheap.first_way()).slits) == 1
    rules = Rules(keep_wide=12.0, keep_area=600.0, cut_price=5.0)
    dear = Packer([Bin(60, 40)], [item], rules)
    packing = dear.pack(dear.first_way())
    assert packing.slits == []
    assert packing.cost == pytest.approx(2400.0 - 40.0 * 40.0)
