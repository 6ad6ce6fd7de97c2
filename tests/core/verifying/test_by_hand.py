"""Plans that hands can saw: the gap, where it need not hold, and edges that are not clean."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
from studio.core.verifying import faults, missing
from tests.core.placing.jobs import at, disc, frame, sheet, square, star

FIRST_PIECES = Hands(gap_mm=2.0, shared_mm=0.7)
SURER = Hands(gap_mm=1.0, shared_mm=0.5)
SURE = Hands(gap_mm=0.3, shared_mm=0.3)
METAL = sheet(box(0, 0, 100, 60))


def job_of(*pieces: Wanted, metal: Stock = METAL, hands: Hands = SURER, **more: object) -> Job:
    return replace(
        Job((metal,), pieces, edge_margin_mm=2.0, hands=hands, worth="two"),
        **more,  # type: ignore[arg-type]
    )


def codes(job: Job, *placements: Placement) -> list[str]:
    return [fault.code for fault in faults(job, placements)]


TAGS = job_of(Wanted("a", square(20), 4))
DOTS = job_of(Wanted("dot", disc(8), 2), Wanted("a", square(20)))


@pytest.mark.parametrize(
    ("apart", "found"),
    [
        *((1.0, []), (0.9995, []), (0.998, ["too-near-piece"]), (0.5, []), (0.54, []), (0.46, [])),
        *((0.56, ["too-near-piece"]), (0.44, ["too-near-line"]), (0.3, ["too-near-line"])),
        *((0.29, ["too-near-piece"]), (-1.0, ["too-near-piece"])),
    ],
)
def test_squares_lie_a_gap_apart_or_share_a_line(apart: float, found: list[str]) -> None:
    """A gap of 1.0; a shared line of 0.5, true to 0.05, so that both sides can be filed."""
    assert codes(TAGS, at("a", 0, 30, 20), at("a", 1, 50 + apart, 20)) == found


@pytest.mark.parametrize("hands", [FIRST_PIECES, SURER, SURE])
def test_two_by_two_tags_in_a_corner_share_their_lines(hands: Hands) -> None:
    job = replace(TAGS, hands=hands)
    step = 20 + hands.shared_mm
    block = [at("a", 2 * i + j, i * step, j * step) for i in (0, 1) for j in (0, 1)]
    assert codes(job, *block) == []
    inside = [replace(p, x_mm=p.x_mm + 20, y_mm=p.y_mm + 10) for p in block]
    assert codes(job, *inside) == []


def test_curves_keep_the_gap_from_each_other_and_from_edges() -> None:
    assert codes(DOTS, at("dot", 0, 30, 30), at("dot", 1, 47.001, 30)) == []
    assert codes(DOTS, at("dot", 0, 30, 30), at("dot", 1, 46.9, 30)) == ["too-near-piece"]
    assert codes(DOTS, at("dot", 0, 9.0, 30)) == []
    assert codes(DOTS, at("dot", 0, 8.9, 30)) == ["too-near-edge"]
    assert codes(DOTS, at("dot", 0, 8.0, 30)) == ["too-near-edge"]


def test_a_run_shorter_than_eight_millimetres_is_no_free_edge_and_no_shared_line() -> None:
    job = job_of(Wanted("a", box(0, 0, 7.9, 20), 2), Wanted("b", box(0, 0, 8, 20)))
    assert codes(job, at("a", 0, 30, 0)) == ["too-near-edge"]
    assert codes(job, at("b", 0, 30, 0)) == []
    upright = [at("a", 0, 30, 20), at("a", 1, 30 + 7.9 + 0.5, 20)]
    assert codes(job, *upright) == []  # along their long sides they do share a line
    aside = [at("a", 0, 30, 20), at("a", 1, 30 + 7.9 + 0.5, 20 + 12.1)]
    assert codes(job, *aside) == ["too-near-piece"]
    assert codes(job, aside[0], replace(aside[1], y_mm=31.9)) == []


def test_a_side_of_many_points_is_straight_while_they_lie_on_one_line() -> None:
    wavy = [(float(x), 0.04 * (-1) ** x) for x in range(21)]
    bowed = [(float(x), 0.4 - 0.004 * (x - 10) ** 2) for x in range(21)]
    for points, found in ((wavy, []), (bowed, ["too-near-edge"])):
        outline = Polygon([*points, (20, 12), (0, 12)])
        job = job_of(Wanted("a", outline))
        y = -outline.bounds[1]
        assert codes(job, at("a", 0, 30, y)) == found


def test_beside_a_free_edge_the_kerf_is_enough_within_two_gaps_of_it() -> None:
    """Two pieces on the edge, both with a flank that leans away from the other above."""
    lean = Polygon([(0, 0), (20, 0), (19.4, 1.5), (16, 10), (0, 10)])
    mirrored = affinity.scale(lean, -1, 1, origin=(0, 0))
    job = job_of(Wanted("a", lean), Wanted("b", mirrored))
    assert codes(job, at("a", 0, 20, 0), at("b", 0, 60.4, 0)) == []
    assert codes(job, at("a", 0, 20, 0), at("b", 0, 60.29, 0)) == ["too-near-piece"]
    # away from any edge there is no zone
    assert codes(job, at("a", 0, 20, 20), at("b", 0, 60.4, 20)) == ["too-near-piece"]


def test_the_zone_ends_two_gaps_from_the_free_edge() -> None:
    for height, found in ((1.1, []), (1.3, ["too-near-piece"])):
        spike = Polygon([(0, 0), (20, 0), (20, height - 0.2), (20.3, height), (0, 12)])
        job = job_of(Wanted("a", spike), Wanted("b", square(20)))
        assert codes(job, at("a", 0, 20, 0), at("b", 0, 40.8, 0)) == found


def test_near_a_shared_line_a_clean_edge_asks_for_the_kerf() -> None:
    pair = [at("a", 0, 30, 0.4), at("a", 1, 50.5, 0.4)]
    # 20 mm of bottom edge are far more than two gaps from the line that the two share
    assert codes(TAGS, *pair) == ["too-near-edge", "too-near-edge"]
    narrow = job_of(Wanted("a", box(0, 0, 1.9, 20), 2))
    for height, found in ((0.4, []), (0.2, ["too-near-edge"] * 2)):
        laid = [at("a", 0, 30, height), at("a", 1, 32.4, height)]
        assert codes(narrow, *laid) == found


def test_a_rough_edge_keeps_its_margin_and_is_never_free() -> None:
    left = MultiLineString([LineString([(0, 0), (0, 60)])])
    job = job_of(Wanted("a", square(20)), metal=replace(METAL, rough_edges=left))
    assert codes(job, at("a", 0, 2.0, 0)) == []
    assert codes(job, at("a", 0, 1.9, 0)) == ["too-near-edge"]
    assert codes(job, at("a", 0, 0.0, 0)) == ["too-near-edge"]
    assert codes(job, at("a", 0, 80, 40)) == []  # the other edges are clean
    rough = job_of(Wanted("a", square(20)), metal=replace(METAL, clean_edges=False))
    assert codes(rough, at("a", 0, 80, 20)) == ["too-near-edge"]
    assert codes(rough, at("a", 0, 78, 38)) == []


def test_a_hole_in_the_metal_is_a_clean_edge_too() -> None:
    holed = sheet(Polygon(box(0, 0, 100, 60).exterior, [box(40, 20, 60, 40).exterior]))
    job = job_of(Wanted("a", square(20)), metal=holed)
    assert codes(job, at("a", 0, 60, 20)) == []
    assert codes(job, at("a", 0, 60.5, 20)) == ["too-near-edge"]
    assert codes(job, at("a", 0, 61, 20)) == []
    assert codes(job, at("a", 0, 59, 20)) == ["outside-metal"]


def test_a_piece_in_a_window_keeps_the_gap_or_shares_a_line() -> None:
    job = job_of(Wanted("frame", frame(50, 40, 5)), Wanted("in", square(20)))
    around = at("frame", 0, 20, 10)
    assert codes(job, around, at("in", 0, 35, 20)) == []
    assert codes(job, around, at("in", 0, 25.5, 15.5)) == []
    assert codes(job, around, at("in", 0, 25.8, 20)) == ["too-near-piece"]


def test_a_fault_says_who_where_and_how_much() -> None:
    near = [at("a", 0, 30, 20), at("a", 1, 50.8, 20)]
    (fault,) = faults(TAGS, near)
    assert (fault.piece, fault.copy, fault.other, fault.other_copy) == ("a", 0, "a", 1)
    assert fault.value_mm == pytest.approx(0.8)
    assert fault.limit_mm == 1.0
    assert fault.at is not None
    assert Point(fault.at).distance(box(50, 20, 50.8, 40)) < 1e-6
    (edge,) = faults(DOTS, [at("dot", 0, 8.5, 30)])
    assert (edge.value_mm, edge.limit_mm) == (pytest.approx(0.5), 1.0)
    assert edge.at == (pytest.approx(0.25), pytest.approx(30))
    assert (edge.other, edge.other_copy) == (None, None)


def test_fixed_pieces_stand_and_are_not_judged_among_themselves() -> None:
    stand = (at("a", 0, 30, 35), at("a", 1, 50.8, 35), at("a", 2, 0.2, 0))
    job = replace(TAGS, fixed=stand)
    assert codes(job, *stand) == []
    assert codes(job, *stand, at("a", 3, 80, 0)) == []
    assert codes(job, *stand, at("a", 3, 80, -0.3)) == ["outside-metal"]
    near = faults(job, [*stand, at("a", 3, 20.9, 0)])
    assert [(f.code, f.copy, f.other_copy) for f in near] == [("too-near-piece", 2, 3)]


def test_a_fixed_piece_that_is_moved_or_left_out_is_a_fault() -> None:
    job = replace(TAGS, fixed=(at("a", 0, 30, 20),))
    assert codes(job) == ["fixed-moved"]
    assert codes(job, at("a", 0, 31, 20)) == ["fixed-moved"]
    assert codes(job, at("a", 0, 30, 20, turn=360.0)) == []
    assert codes(job, at("a", 1, 60, 20)) == ["fixed-moved"]


def test_what_is_missing_is_told_once_for_each_kind() -> None:
    job = job_of(Wanted("a", square(20), 3), Wanted("b", star(9, 4)), Wanted("c", square(5), 0))
    laid = [at("a", 1, 0, 0)]
    assert codes(job, *laid) == []
    assert [(f.piece, f.copy, f.message) for f in missing(job, laid)] == [
        ("a", 0, "2 of 3 have no place"),
        ("b", 0, "1 of 1 have no place"),
    ]
    assert missing(job, [at("a", k, 0, 0) for k in range(3)])[0].piece == "b"


def test_a_sure_hand_saws_on_the_line() -> None:
    job = replace(TAGS, hands=SURE)
    assert codes(job, at("a", 0, 30, 20), at("a", 1, 50.3, 20)) == []
    assert codes(job, at("a", 0, 30, 20), at("a", 1, 50.29, 20)) == ["too-near-piece"]


def test_a_narrow_strip_hides_nothing_that_lies_beside_it() -> None:
    """What runs along a line is excused, not what lies beside it: a strip of 3 mm between a clean
    edge 0.5 mm away and a shared line, and a piece 0.35 mm above a strip of 2 mm on an edge."""
    strip = Wanted("strip", box(0, 0, 60, 3), 2)
    job = job_of(strip, metal=Stock("S", box(0, 0, 100, 50)), hands=FIRST_PIECES)
    low = Placement("strip", 0, "S", False, 0.0, 10.0, 0.5)
    high = Placement("strip", 1, "S", False, 0.0, 10.0, 0.5 + 3.0 + 0.7)
    assert codes(job, low, high) == ["too-near-edge"]
    thin, wide = Wanted("thin", box(0, 0, 60, 2)), Wanted("wide", box(0, 0, 50, 20))
    job = job_of(thin, wide, metal=Stock("S", box(0, 0, 100, 50)), hands=FIRST_PIECES)
    on_edge = Placement("thin", 0, "S", False, 0.0, 10.0, 0.0)
    above = Placement("wide", 0, "S", False, 0.0, 15.0, 2.0 + 0.85)
    assert codes(job, on_edge, above) == ["too-near-piece"]


def test_what_keeps_the_gap_needs_no_shared_line_however_wide() -> None:
    hands = Hands(gap_mm=0.5, shared_mm=0.7)
    square = Wanted("a", box(0, 0, 20, 20), 2)
    job = job_of(square, metal=Stock("S", box(0, 0, 100, 50)), hands=hands)
    for apart, found in ((0.6, []), (0.4, ["too-near-line"])):
        laid = [Placement("a", k, "S", False, 0.0, 10.0 + k * (20 + apart), 10.0) for k in (0, 1)]
        assert codes(job, *laid) == found
