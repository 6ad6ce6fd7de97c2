"""What a browser's page was busy with, frame by frame, as the browser itself notes it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event
from typing import Any

CATEGORIES = ["toplevel", "blink.user_timing", "devtools.timeline", "cc", "__metadata"]
TASK, FRAME, CALLED = (
    "ThreadControllerImpl::RunTask",
    "ProxyMain::BeginMainFrame",
    "FireAnimationFrame",
)
PATIENCE_SECONDS = 60.0


IDLE_MS = 1.0
"""A thread with nothing to do for so long would have made a frame if one had been asked for."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What the page's own thread did at a stretch, until a frame was made or nothing was left.

    `busy_ms` is what passed meanwhile, `processor_ms` what of it the thread really had of a
    processor: a loaded machine lengthens that far less.
    """

    busy_ms: float
    processor_ms: float
    is_drawn: bool


@dataclass(slots=True)
class Trace:
    """Filled when its block is over."""

    events: list[dict[str, Any]] = field(default_factory=list)

    def mark(self, name: str) -> float:
        """When the page marked this, in ms."""
        return next(e["ts"] for e in self.events if e["name"] == name and "args" in e) / 1000

    def frames(self, begin: str, end: str) -> list[Frame]:
        """All stretches between two marks."""
        at, until = self.mark(begin), self.mark(end)
        own = self._own_thread()
        tasks = sorted((e for e in own if e["name"] == TASK), key=lambda e: e["ts"])
        begun = [e["ts"] for e in own if e["name"] == FRAME]
        found: list[Frame] = []
        busy = processor = ended = 0.0
        for task in tasks:
            began = task["ts"] / 1000
            if not at <= began < until:
                continue
            if busy and began - ended > IDLE_MS:
                found.append(Frame(busy, processor, is_drawn=False))
                busy = processor = 0.0
            ended = began + task["dur"] / 1000
            busy += task["dur"] / 1000
            processor += task.get("tdur", task["dur"]) / 1000
            if _holds(task, begun):
                found.append(Frame(busy, processor, is_drawn=True))
                busy = processor = 0.0
        if busy:
            found.append(Frame(busy, processor, is_drawn=False))
        return found

    def _own_thread(self) -> list[dict[str, Any]]:
        """What happened on the thread that scripts and pictures are made on."""
        counts: dict[tuple[int, int], int] = {}
        for e in self.events:
            if e["name"] == CALLED:
                thread = e["pid"], e["tid"]
                counts[thread] = counts.get(thread, 0) + 1
        most = max(counts, key=lambda thread: counts[thread])
        return [e for e in self.events if (e["pid"], e["tid"]) == most and e["ph"] == "X"]


def _holds(task: dict[str, Any], begun: list[float]) -> bool:
    return any(task["ts"] <= at <= task["ts"] + task["dur"] for at in begun)


@contextmanager
def traced(page: Any, session: Any) -> Iterator[Trace]:
    """Notes what happens in a browser while the block runs."""
    trace, over = Trace(), Event()

    def collected(told: dict[str, Any]) -> None:
        trace.events.extend(told["value"])

    def complete(_told: dict[str, Any]) -> None:
        over.set()

    session.on("Tracing.dataCollected", collected)
    session.on("Tracing.tracingComplete", complete)
    session.send(
        "Tracing.start",
        {"traceConfig": {"includedCategories": CATEGORIES}, "transferMode": "ReportEvents"},
    )
    try:
        yield trace
    finally:
        session.send("Tracing.end")
        end = time.monotonic() + PATIENCE_SECONDS
        while not over.is_set() and time.monotonic() < end:
            page.wait_for_timeout(50)
        session.remove_listener("Tracing.dataCollected", collected)
        session.remove_listener("Tracing.tracingComplete", complete)
