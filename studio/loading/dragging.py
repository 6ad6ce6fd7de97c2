"""A hand that drags pieces on a layout table's own page, and how long its frames take."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from .full_sheet import path_across
from .tracing import Frame, traced

STEP_PX = 14.0
GRAB_STEPS = 12
"""After which a grab is over and the drag is a drag like any other."""
ANSWERED_SECONDS = 30.0
EMPTY = """steps => new Promise((done) => {
  const next = () => (steps -= 1) > 0 ? requestAnimationFrame(next) : done();
  requestAnimationFrame(next);
})"""

WATCHED = """() => {
  const laying = document.querySelector("[data-laying]");
  const dropped = () => {
    window.benchDropped = performance.now();
    window.benchHeard = null;
  };
  addEventListener("pointerup", dropped, true);
  const heard = () => {
    if (laying.dataset.busy === "false") window.benchHeard ??= performance.now();
  };
  new MutationObserver(heard).observe(laying, { attributeFilter: ["data-busy"] });
}"""
ANSWERED = "() => window.benchHeard && window.benchHeard - window.benchDropped"
"""Asked for seldom: whoever asks keeps the page busy."""


@dataclass(slots=True)
class Dragged:
    """In ms: the frames of an empty page; of a long drag; each grab's worst; drop to figures."""

    empty: list[Frame] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    grabs: list[Frame] = field(default_factory=list)
    drops: list[Frame] = field(default_factory=list)
    answers_ms: list[float] = field(default_factory=list)


class NoTable(Exception):
    """There is nothing to drag at that address; the text says why."""


def dragged(page: Any, address: str, *, slow: float, steps: int, grabs: int, seed: int) -> Dragged:
    """Grabs `grabs` pieces one after the other, drags the first one `steps` steps, lets go of each
    where it came from. The page is a browser's, somebody is signed in. Raises NoTable."""
    session = page.context.new_cdp_session(page)
    found = Dragged(empty=_empty(page, session, slow, steps))
    page.goto(address)
    pieces = page.locator("[data-laying].has-script [data-piece]")
    try:
        pieces.first.wait_for(timeout=ANSWERED_SECONDS * 1000)
    except Exception as none:
        raise NoTable("nothing lies on a layout table there") from none
    page.wait_for_timeout(3000)  # as somebody looks before they reach for a piece
    page.evaluate(WATCHED)
    slowed(session, slow)
    hand = _Hand(page, session)
    middles = [_middle(one) for one in pieces.all()]
    chance = random.Random(seed)  # noqa: S311 - for a benchmark
    chance.shuffle(middles)
    picture = page.locator("[data-drawing]").bounding_box()
    for number, at in enumerate(middles[:grabs]):
        near = path_across(chance, GRAB_STEPS, (120.0, 120.0), STEP_PX)
        path = [(at[0] + x - 60, at[1] + y - 60) for x, y in near]
        with traced(page, session) as trace:
            _mark(page, "grabbed")
            hand.down(*at)
            hand.follow(path)
            _mark(page, "dragged")
            if number == 0:
                size = picture["width"], picture["height"]
                across = path_across(chance, steps, size, STEP_PX)
                hand.follow([(picture["x"] + x, picture["y"] + y) for x, y in across])
            _mark(page, "back")
            hand.follow([(at[0] + 1, at[1] + 1)])
            _mark(page, "dropped")
            found.answers_ms.append(hand.up(at[0] + 1, at[1] + 1))
            _mark(page, "answered")
        found.grabs.append(_worst(trace.frames("grabbed", "dragged")))
        found.frames += [one for one in trace.frames("dragged", "back") if one.is_drawn]
        found.drops.append(_worst(trace.frames("dropped", "answered")))
    return found


class _Hand:
    def __init__(self, page: Any, session: Any) -> None:
        self.page, self.session = page, session

    def down(self, x: float, y: float) -> None:
        self._send("mouseMoved", x, y, 0)
        self._send("mousePressed", x, y, 1)

    def follow(self, path: Sequence[tuple[float, float]]) -> None:
        for x, y in path:
            self._send("mouseMoved", x, y, 1)

    def up(self, x: float, y: float) -> float:
        """How long until the figures of where it lies are there, ms."""
        self._send("mouseReleased", x, y, 0)
        end = time.monotonic() + ANSWERED_SECONDS
        while time.monotonic() < end:
            self.page.wait_for_timeout(200)
            passed = self.page.evaluate(ANSWERED)
            if passed is not None:
                return float(passed)
        raise NoTable("the page was not answered")

    def _send(self, kind: str, x: float, y: float, buttons: int) -> None:
        told = {"type": kind, "x": x, "y": y, "button": "left", "buttons": buttons}
        self.session.send("Input.dispatchMouseEvent", told | {"clickCount": 1})


def _empty(page: Any, session: Any, slow: float, steps: int) -> list[Frame]:
    page.goto("about:blank")
    slowed(session, slow)
    with traced(page, session) as trace:
        _mark(page, "begun")
        page.evaluate(EMPTY, steps)
        _mark(page, "over")
    slowed(session, 1.0)
    return [one for one in trace.frames("begun", "over") if one.is_drawn]


def _worst(frames: Sequence[Frame]) -> Frame:
    return max(frames, key=lambda frame: frame.busy_ms, default=Frame(0.0, 0.0, is_drawn=False))


def _middle(piece: Any) -> tuple[float, float]:
    box = piece.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _mark(page: Any, name: str) -> None:
    page.evaluate("name => performance.mark(name)", name)


def slowed(session: Any, times: float) -> None:
    session.send("Emulation.setCPUThrottlingRate", {"rate": times})


def spread(values: Sequence[float]) -> tuple[float, float, float]:
    """The middle one, that which 95 of 100 do not exceed, and the greatest."""
    ordered = sorted(values) or [math.nan]
    p95 = ordered[min(len(ordered) - 1, math.floor(0.95 * len(ordered)))]
    return ordered[len(ordered) // 2], p95, ordered[-1]
