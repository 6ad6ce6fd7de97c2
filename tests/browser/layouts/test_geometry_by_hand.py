"""Moves on the layout table whose end can be counted by hand."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser
from shapely.geometry import Polygon, box

from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
from tests.browser.patterns.modules_alone import page_beside_modules
from tests.core.placing.jobs import disc, frame, square

from .jobs import sent, state_of

pytestmark = pytest.mark.browser

PIECES = (
    Wanted("square", square(20), 3),
    Wanted("plate", square(20), turns_deg=(0.0, 90.0, 180.0, 270.0)),
    Wanted("disc", disc(8)),
    Wanted("dot", disc(3)),
    Wanted("frame", frame(30, 30, 5)),
    Wanted("tag", box(0, 0, 26, 10)),
    Wanted("wedge", Polygon([(0, 0), (20, 0), (16, 9), (4, 9)]), 2),
    Wanted("whole", box(0, 0, 99, 59)),
)
SURER, SURE = Hands(1.0, 0.5), Hands(0.3, 0.3)
REST_MM = 0.001
MOVE = """asked => import("./layouts/geometry/bench.js").then(({ Bench }) => {
  const { state, laid, piece, wishes } = JSON.parse(asked);
  const bench = new Bench(state.rules, state.metal, state.pieces);
  bench.set(laid);
  const held = bench.hold(piece, 0);
  return wishes.map(([x_mm, y_mm, turn_deg, how]) =>
    held.towards({ metal: "S1", mirror: false, turn_deg, x_mm, y_mm }, how));
})"""

Move = Callable[..., list[dict[str, Any]]]


def at(piece: str, copy: int, x: float, y: float, turn: float = 0.0) -> Placement:
    return Placement(piece, copy, "S1", False, turn, x, y)


@pytest.fixture(scope="module")
def move(chromium: Browser) -> Iterator[Move]:
    with page_beside_modules(chromium) as page:

        def moved(
            laid: list[Placement], piece: str, *wishes: tuple[Any, ...], hands: Hands = SURER
        ) -> list[dict[str, Any]]:
            """Where a piece comes to by wishes of x, y, turn and how."""
            job = Job((Stock("S1", box(0, 0, 100, 60)),), PIECES, hands=hands)
            asked = {"state": state_of(job), "laid": sent(laid), "piece": piece, "wishes": wishes}
            found: list[dict[str, Any]] = page.evaluate(MOVE, json.dumps(asked))
            return found

        yield moved


SLIDE = {"slide": True, "snap": False}
BOTH = {"slide": True, "snap": True, "reach_mm": 1.0}
NEITHER = {"slide": False, "snap": False}


def place(found: dict[str, Any]) -> tuple[float, float, float]:
    return found["x_mm"], found["y_mm"], found["turn_deg"]


def near(x: float, y: float, turn: float = 0.0) -> Any:
    return pytest.approx((x, y, turn), abs=1e-3)


def test_a_square_stops_at_the_gap_and_slides_along_the_other(move: Move) -> None:
    laid = [at("square", 0, 5, 20), at("square", 1, 40, 20)]
    stopped, along, beyond = move(
        laid, "square", (25, 22, 0, SLIDE), (27, 30, 0, SLIDE), (70, 20, 0, SLIDE)
    )
    assert place(stopped) == near(40 - 20 - 1 - REST_MM, 22)
    assert place(along) == near(40 - 20 - 1 - REST_MM, 30)
    assert place(beyond) == near(70, 20)  # what fits there jumps across
    assert stopped["faults"] == along["faults"] == beyond["faults"] == []


def test_a_square_near_the_corner_lies_in_it(move: Move) -> None:
    straight, turned = move([], "square", (0.6, -0.4, 0, BOTH), (1.0, 0.0, 3, BOTH))
    for found in (straight, turned):
        assert place(found) == near(0, 0)
        assert [snap["kind"] for snap in found["snaps"]] == ["corner", "corner"]


def test_what_may_not_turn_is_never_turned(move: Move) -> None:
    (found,) = move([], "plate", (30, 0.5, 3, BOTH))
    assert found["turn_deg"] == 3
    assert all(snap["kind"] == "gap" for snap in found["snaps"])


@pytest.mark.parametrize("hands", [SURER, SURE], ids=["a gap", "a kerf"])
def test_two_squares_share_a_line_and_their_ends_meet(move: Move, hands: Hands) -> None:
    laid = [at("square", 1, 40, 20)]
    found, pushed = move(
        laid, "square", (19.8, 20.4, 0, BOTH), (24, 20.2, 0, {**BOTH, "reach_mm": 0.4}), hands=hands
    )
    for one in (found, pushed):
        assert place(one) == near(40 - 20 - hands.shared_mm, 20)
        assert [snap["kind"] for snap in one["snaps"]] == ["shared"]
        assert one["faults"] == []
    assert found["snaps"][0]["line"] == pytest.approx([40, 40, 40, 20], abs=1e-9)


def test_a_curve_at_an_edge_keeps_the_gap(move: Move) -> None:
    slid, drawn, off = move(
        [], "disc", (50, 3, 0, SLIDE), (50, 9.6, 0, BOTH), (50, 8.5, 0, NEITHER)
    )
    assert place(slid) == place(drawn) == near(50, 8 + 1 + REST_MM)
    assert [snap["kind"] for snap in drawn["snaps"]] == ["gap"]
    (fault,) = off["faults"]
    assert (fault["kind"], fault["piece"]) == ("edge", None)
    assert (fault["value"], fault["limit"]) == pytest.approx((0.5, 1.0))
    assert place(off) == near(50, 8.5)  # only judged


def test_a_dot_lies_in_a_window_and_stays_in_it(move: Move) -> None:
    inside, pushed = move([at("frame", 0, 20, 20)], "dot", (35, 35, 0, SLIDE), (48, 35, 0, SLIDE))
    assert place(inside) == near(35, 35)
    assert place(pushed) == near(45 - 3 - 1 - REST_MM, 35)


def test_a_piece_from_the_tray_comes_beside_what_lies_there(move: Move) -> None:
    (found,) = move([at("square", 1, 40, 20)], "square", (52, 20, 0, SLIDE))
    assert place(found) == near(60 + 1 + REST_MM, 20)


def test_what_fits_nowhere_is_where_it_was_put_and_says_why(move: Move) -> None:
    (found,) = move([at("square", 1, 40, 20)], "whole", (3, 2, 0, BOTH))
    assert place(found) == near(3, 2)
    assert [fault["kind"] for fault in found["faults"]] == ["outside", "piece"]
    assert found["faults"][1]["value"] == 0.0


def test_neighbours_that_a_line_had_allowed_nearer_are_told(move: Move) -> None:
    laid = [at("tag", 0, 9, 20), at("wedge", 0, 2, 30.5), at("wedge", 1, 22.5, 30.5)]
    there, gone = move(laid, "tag", (9, 20, 0, NEITHER), (60, 20, 0, SLIDE))
    assert there["faults"] == []
    (fault,) = gone["faults"]
    assert {(fault["piece"], fault["copy"]), (fault["of"]["piece"], fault["of"]["copy"])} == {
        ("wedge", 0),
        ("wedge", 1),
    }
    assert (fault["kind"], fault["limit"]) == ("piece", 1.0)
    assert fault["value"] == pytest.approx(0.5)
