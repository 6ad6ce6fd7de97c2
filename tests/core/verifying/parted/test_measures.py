"""What parted metal comes to, by cases that can be counted by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from studio.core.cutting import Blank, Cut, Stock, Wanted
from studio.core.verifying import Watch, blanks_of, measure, parts_of
from tests.core.placing.jobs import at
from tests.core.verifying.parted.jobs import SHEET, across, parted_job, upright, with_metal

LAID = [at("a", 0, 0, 0), at("a", 1, 21, 0), at("b", 0, 60, 0), at("b", 1, 81, 0)]
CUTS = [upright(50), upright(110, part=2)]


def test_shear_cuts_take_no_metal_and_no_saw() -> None:
    """Two cuts of 100 mm. Each pair of squares lies 1 mm apart, so that one cut of 20 mm frees
    both; A's three sides of 20 lie on the sheet's edges, and both of B's lower ones."""
    found, _ = measure(parted_job(), LAID, CUTS)
    assert found.cut_line_mm == pytest.approx(200)
    assert found.free_edge_mm == pytest.approx(60 + 40)
    assert found.saw_line_mm == pytest.approx(4 * 80 - 100 - 2 * 20)
    assert {n: part.area for n, part in parts_of(parted_job(), "S1", CUTS).items()} == {
        1: 5000,
        3: 6000,
        4: 9000,
    }


def test_saw_cuts_count_as_saw_line_and_their_kerf_is_scrap() -> None:
    """Two cuts of 100 mm, 0.3 wide, take 60 mm²."""
    sheared, before = measure(parted_job(), [], CUTS)
    sawn, after = measure(parted_job("saw"), [], CUTS)
    assert sawn.cut_line_mm == 0.0
    assert sawn.saw_line_mm == pytest.approx(sheared.saw_line_mm + 200)
    parts = parts_of(parted_job("saw"), "S1", CUTS)
    assert {n: part.area for n, part in parts.items()} == {
        1: pytest.approx(5000 - 15),
        3: pytest.approx(6000 - 30),
        4: pytest.approx(9000 - 15),
    }
    assert sawn.scrap_mm2 - sheared.scrap_mm2 == pytest.approx(60)
    price, scrap_worth, sawing = 0.001, 0.1, 0.002
    less = sum(o.worth for o in before) - sum(o.worth for o in after)
    more = sawn.cost - sheared.cost
    assert more == pytest.approx(200 * sawing + less - 60 * price * scrap_worth)


def test_a_cut_counts_only_where_it_runs_through_metal() -> None:
    """A window of 40 by 10 lies across a cut of 100, and a notch of 20 across one of 100."""
    pierced = Polygon(box(0, 0, 200, 100).exterior, [box(80, 45, 120, 55).exterior])
    assert measure(parted_job(metal=pierced), [], [upright(100)])[0].cut_line_mm == 90.0
    assert measure(parted_job("saw", metal=pierced), [], [upright(100)])[0].saw_line_mm == 90.0
    legs = box(0, 0, 100, 100).difference(box(40, 40, 60, 100))
    assert isinstance(legs, Polygon)
    assert measure(parted_job(metal=legs), [], [across(70, 0, 100)])[0].cut_line_mm == 80.0


def test_a_cut_in_the_line_of_an_edge_is_cut_beyond_it_alone_with_a_shear() -> None:
    """An angle of 100 by 100 with arms of 40: the line of the inner edge runs 60 mm along it and
    40 mm through metal. The saw takes half its kerf of the edge too."""
    angle = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    cut = across(40, 0, 100)
    job = parted_job(metal=angle)
    assert measure(job, [], [cut])[0].cut_line_mm == pytest.approx(40)
    assert {n: p.area for n, p in parts_of(job, "S1", [cut]).items()} == {1: 2400, 2: 4000}
    sawn = parted_job("saw", metal=angle)
    assert measure(sawn, [], [cut])[0].saw_line_mm == pytest.approx(100)
    assert {n: p.area for n, p in parts_of(sawn, "S1", [cut]).items()} == {
        1: pytest.approx(2400 - 40 * 0.15),
        2: pytest.approx(4000 - 100 * 0.15),
    }


@pytest.mark.parametrize("turn", [0.0, 17.0, 33.3, 120.0])
def test_so_it_is_at_any_turn(turn: float) -> None:
    """Where no coordinate of the edge is a round number."""
    angle = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    turned = affinity.rotate(angle, turn, origin=(0, 0))
    ends = affinity.rotate(LineString([(0, 40), (100, 40)]), turn, origin=(0, 0)).coords
    cut = Cut("S1", 0, ends[0], ends[1])
    assert measure(parted_job(metal=turned), [], [cut])[0].cut_line_mm == pytest.approx(40)
    assert measure(parted_job("saw", metal=turned), [], [cut])[0].saw_line_mm == (
        pytest.approx(100)
    )
    parts = parts_of(parted_job(metal=turned), "S1", [cut])
    assert [part.area for part in parts.values()] == [pytest.approx(2400), pytest.approx(4000)]


def test_that_edge_stays_clean_beyond_a_shear_cut() -> None:
    """The angle again: a square on the inner edge, clear of the cut, has a free edge there."""
    angle = Polygon([(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)])
    laid = [at("a", 0, 60, 20)]
    assert measure(parted_job(metal=angle), laid, [across(40, 0, 100)])[0].free_edge_mm == (
        pytest.approx(20)
    )
    assert measure(parted_job("saw", metal=angle), laid, [across(40, 0, 100)])[0].free_edge_mm == 0


def test_a_cut_edge_is_never_a_free_edge() -> None:
    """With no margin at all a square may lie on it, and its side is sawn none the less."""
    job = parted_job(margin=0.0)
    laid = [at("a", 0, 20, 0)]
    assert measure(job, laid, [upright(40)])[0].free_edge_mm == pytest.approx(20)
    assert measure(job, laid, [])[0].free_edge_mm == pytest.approx(20)
    assert measure(job, [at("a", 0, 180, 0)], [upright(40)])[0].free_edge_mm == pytest.approx(40)


def test_what_is_near_across_a_cut_shares_nothing() -> None:
    """0.8 mm apart one cut would free both squares; parted, each side is sawn by itself."""
    laid = [at("a", 0, 20, 40), at("b", 0, 40.8, 40)]
    job = parted_job(margin=0.4)
    assert measure(job, laid, [upright(40.4)])[0].saw_line_mm == pytest.approx(160)
    assert measure(job, laid)[0].saw_line_mm == pytest.approx(140)


def test_offcuts_are_those_of_each_part() -> None:
    """A cut through the largest offcut makes two: 49 mm wide without a piece, 150 with one.

    The leftover of 50 by 100, opened by a disc of 12, loses (4 − π) · 6² in its corners."""
    _, one = measure(parted_job(), [at("a", 0, 180, 0)])
    _, two = measure(parted_job(), [at("a", 0, 180, 0)], [upright(50)])
    assert (len(one), len(two)) == (1, 2)
    assert two[0].metal == two[1].metal == "S1"
    assert two[0].outline.area == pytest.approx(5000 - (4 - 3.14159) * 36, abs=1.0)
    assert sum(o.worth for o in two) < one[0].worth


def test_strips_that_a_cut_makes_too_narrow_are_scrap() -> None:
    """Offcuts have to be 12 mm wide: a strip of 11 is none, though the saw may leave it."""
    _, offcuts = measure(parted_job(least=5.0), [], [upright(11)])
    assert [round(o.outline.bounds[0]) for o in offcuts] == [11]


def test_metal_that_is_cut_and_carries_no_piece_is_touched() -> None:
    job = with_metal(parted_job(), Stock("S1", box(0, 0, 200, 100)), Stock("S2", box(0, 0, 90, 90)))
    untouched, _ = measure(job, LAID[:2], [])
    assert untouched.consumed_mm2 + untouched.kept_mm2 == pytest.approx(20000)
    cut = upright(40, metal="S2", high=90)
    touched, offcuts = measure(job, LAID[:2], [cut])
    assert touched.consumed_mm2 + touched.kept_mm2 == pytest.approx(20000 + 8100)
    assert [o.metal for o in offcuts] == ["S1", "S2", "S2"]
    missed, _ = measure(job, LAID[:2], [upright(95, metal="S2", high=90)])
    assert missed == untouched


def test_blanks_are_the_parts_with_pieces() -> None:
    job = parted_job()
    found = blanks_of(job, LAID, CUTS)
    assert [(blank.metal, blank.part, blank.group) for blank in found] == [
        ("S1", 1, "A"),
        ("S1", 3, "B"),
    ]
    assert found[0].outline.equals(box(0, 0, 50, 100))
    assert found[1].outline.equals(box(50, 0, 110, 100))
    # no cut: the stock piece itself is the blank of its only group
    assert blanks_of(job, LAID[:2]) == (Blank("S1", 0, "A", SHEET),)
    assert blanks_of(replace(job, parting=None), LAID, CUTS) == ()
    # faults: of two groups, and of metal in two pieces
    assert [blank.group for blank in blanks_of(job, LAID)] == ["A", "B"]
    both = MultiPolygon([box(0, 0, 40, 100), box(60, 0, 100, 100)])
    assert blanks_of(parted_job(metal=both), LAID[:1]) == ()


def test_saw_cuts_are_shared_by_blank_area() -> None:
    """Blanks of 4985 and 5970 mm², 200 mm of cuts. A saws 80 + 80 less 60 on edges less one cut
    for two of 20 counted once: 80; B 160 − 40 − 20 = 100."""
    found = Watch(parted_job("saw")).judge(LAID, CUTS)
    assert found.sawn_mm == {
        "A": pytest.approx(80 + 200 * 4985 / (4985 + 5970)),
        "B": pytest.approx(100 + 200 * 5970 / (4985 + 5970)),
    }
    assert sum(found.sawn_mm.values()) == pytest.approx(found.measures.saw_line_mm)
    assert Watch(parted_job()).judge(LAID, CUTS).sawn_mm == {
        "A": pytest.approx(80),
        "B": pytest.approx(100),
    }


def test_pieces_without_a_group_share_their_blank_by_their_own_areas() -> None:
    """30 by 20 and 10 by 20 on one blank: three quarters of the cut, and one."""
    pieces = Wanted("a", box(0, 0, 30, 20)), Wanted("b", box(0, 0, 10, 20))
    job = parted_job("saw", *pieces)
    laid = [at("a", 0, 3, 30), at("b", 0, 3, 60)]
    assert Watch(job).judge(laid, [upright(50)]).sawn_mm == {
        "a": pytest.approx(100 + 75),
        "b": pytest.approx(60 + 25),
    }


def test_a_judgement_tells_blanks_and_cuts_and_shows_lines_by_parts() -> None:
    watch = Watch(parted_job())
    found = watch.judge(LAID, CUTS)
    assert found.faults == ()
    assert found.cuts == tuple(CUTS)
    assert found.blanks == blanks_of(parted_job(), LAID, CUTS)
    shown = watch.show(LAID, found)
    assert len(shown.free) == 5
    assert shown.strip is not None
    assert shown.strip[0] == "S1"
    assert box(110, 0, 200, 100).covers(shown.strip[1])
    plain = Watch(replace(parted_job(), parting=None)).judge(LAID, CUTS)
    assert (plain.cuts, plain.blanks) == ((), ())
