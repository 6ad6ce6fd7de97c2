"""The library `spyrrow` at work on a strip, in a process of its own.

A packer of one rectangle without windows or obstacles (MIT; Rust). A process of its own, because
it stops the whole process where an input does not suit it, and cannot be asked to stop early.
Its seed does not fix what it finds within a time, so it takes no part where a number of rounds
is asked for.
"""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from studio.core.placing.job import Job, Placement
from studio.core.placing.shapes import Shape

ROOT = Path(__file__).resolve().parent.parent.parent.parent
MODULE = "studio.core.placing.strip_library"
BOOT = f"import sys; sys.path.insert(0, sys.argv[1]); import {MODULE} as m; m.main()"
DRAIN_SECONDS = 0.1
EXPLORING = 0.8
FEASIBLE = ("ExplFeas", "CmprFeas", "Final")


def is_there() -> bool:
    """Whether the library is installed."""
    return importlib.util.find_spec("spyrrow") is not None


def suits(job: Job) -> bool:
    """Whether the library knows all that this strip asks for: no mirroring."""
    return not any(order.may_mirror for order in job.pieces if order.count)


class Library:
    """One run beside our own search; `newest` is asked now and then."""

    def __init__(
        self, job: Job, shapes: Sequence[Shape], *, seconds: float, seed: int, workers: int
    ) -> None:
        self.job = job
        self._lock = threading.Lock()
        self._found: tuple[list[Placement], float] | None = None
        # kept apart by half the kerf each, in a strip that much higher: its own way of keeping
        # pieces apart would keep them from the strip's edges too
        self.half = job.kerf_mm / 2.0
        request = json.dumps(self._request(shapes, seconds, seed, workers)).encode()
        self._child = subprocess.Popen(  # noqa: S603  our own interpreter and our own module
            [sys.executable, "-I", "-c", BOOT, str(ROOT)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._reader = threading.Thread(target=self._read, args=(request,), daemon=True)
        self._reader.start()

    def newest(self) -> tuple[list[Placement], float] | None:
        """The shortest answer since last asked, and its length; the judge has not seen it."""
        with self._lock:
            found, self._found = self._found, None
        return found

    @property
    def at_work(self) -> bool:
        return self._child.poll() is None

    def end(self) -> None:
        """Stop it, and wait until it is gone."""
        self._child.kill()
        self._child.wait()
        self._reader.join()
        if self._child.stdout is not None:
            self._child.stdout.close()

    def _request(
        self, shapes: Sequence[Shape], seconds: float, seed: int, workers: int
    ) -> dict[str, Any]:
        metal = self.job.metal[0]
        edge = 0.0 if metal.clean_edges else self.job.edge_gap_mm
        x0, y0, _, y1 = metal.outline.bounds
        self.origin = (x0 + edge - self.half, y0 + edge - self.half)
        items = []
        for shape in shapes:
            if shape.order.count:
                grown = shape.plain
                if self.half > 0.0:
                    grown = grown.buffer(self.half, join_style="mitre", mitre_limit=3.0)
                items.append(
                    {
                        "id": shape.order.id,
                        "points": shapely.get_coordinates(grown.exterior).tolist(),
                        "count": shape.order.count,
                        "turns": shape.order.turns_deg,
                    }
                )
        return {
            "height": y1 - y0 - 2.0 * edge + 2.0 * self.half,
            "items": items,
            "seconds": seconds,
            "seed": seed,
            "workers": workers,
        }

    def _read(self, request: bytes) -> None:
        child = self._child
        assert child.stdin is not None
        assert child.stdout is not None
        try:
            child.stdin.write(request)
            child.stdin.close()
        except OSError:  # it is gone already
            return
        for line in child.stdout:
            try:
                answer = json.loads(line)
                found = self._placements(answer["placed"]), float(answer["length"])
            except (ValueError, KeyError, TypeError):
                continue
            with self._lock:
                self._found = found[0], found[1] - 2.0 * self.half

    def _placements(self, placed: Sequence[Sequence[Any]]) -> list[Placement]:
        copies: dict[str, int] = {}
        found = []
        for name, x, y, turn in placed:
            copy = copies.get(name, 0)
            copies[name] = copy + 1
            place = round(float(x) + self.origin[0], 6), round(float(y) + self.origin[1], 6)
            found.append(
                Placement(name, copy, self.job.metal[0].id, False, float(turn) % 360.0, *place)
            )
        return found


def main() -> None:
    """The child: one JSON request on standard input, one line for every shorter strip."""
    import spyrrow

    request = json.loads(sys.stdin.buffer.read())
    items = [
        spyrrow.Item(
            item["id"],
            [(x, y) for x, y in item["points"]],
            demand=item["count"],
            allowed_orientations=item["turns"],
        )
        for item in request["items"]
    ]
    exploring = max(1, round(EXPLORING * request["seconds"]))
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=None,
        exploration_time=exploring,
        compression_time=max(1, round(request["seconds"]) - exploring),
        num_workers=request["workers"],
        seed=request["seed"],
    )
    instance = spyrrow.StripPackingInstance("strip", strip_height=request["height"], items=items)
    queue = spyrrow.ProgressQueue()
    done = threading.Event()

    def tell() -> None:
        shortest = float("inf")
        while True:
            last = done.wait(DRAIN_SECONDS)
            found = None
            for kind, solution in queue.drain():
                if str(kind).rsplit(".", 1)[-1] in FEASIBLE and solution.width < shortest:
                    found, shortest = solution, solution.width
            if found is not None:
                placed = [(p.id, *p.translation, p.rotation) for p in found.placed_items]
                print(json.dumps({"length": found.width, "placed": placed}), flush=True)
            if last:
                return

    teller = threading.Thread(target=tell)
    teller.start()
    try:
        instance.solve(config, queue)
    finally:
        done.set()
        teller.join()
