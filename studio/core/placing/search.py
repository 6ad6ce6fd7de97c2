"""Many plans, one after another, and the best of them: what `place` runs."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from studio.core.placing.construct import Builder, Strategy
from studio.core.placing.job import Job, Measures, Offcut, Placement, Plan, Unplaced
from studio.core.verifying import faults, measure

TICK_SECONDS = 0.5  # a lease is renewed at each progress report
JUDGING_SECONDS_PER_VERTEX = 25e-6  # measured on a slow machine, with room

ALONG = ("EN", "ES", "WN", "WS", "NE", "SE", "NW", "SW")  # for metal wider than high
ACROSS = ("NE", "NW", "SE", "SW", "EN", "WN", "ES", "WS")

NO_TIME = "no time was left to try it; give the search more seconds"
NO_ROOM = "no room left on the metal"
TOO_LARGE = "larger than any metal offered: it fits on none, even alone"
NOT_FOUND = "no place was found for it"
NO_METAL = "there is no metal to place it on"


@dataclass(frozen=True)
class Candidate:
    """A judged plan and how it was made."""

    placements: tuple[Placement, ...]
    left: tuple[int, ...]  # indices of the copies that are not placed
    measures: Measures
    offcuts: tuple[Offcut, ...]
    strategy: Strategy

    def key(self, job: Job) -> tuple[float, float]:
        """The smaller, the better: everything placed comes first, then money or length."""
        figure = self.measures.strip_length_mm if job.goal == "strip" else self.measures.cost
        return float(len(self.left)), round(figure, 9)


class Search:
    """One run of the engine on one job."""

    def __init__(
        self,
        job: Job,
        seconds: float,
        seed: int,
        workers: int,
        rounds: int | None,
        on_progress: Callable[[Plan], bool] | None,
    ) -> None:
        self.started = time.monotonic()
        self.job = job if job.goal == "plan" else replace(job, metal=job.metal[:1])
        self.seconds = seconds
        self.seed = seed
        self.workers = max(1, workers)
        self.most_rounds = rounds
        self.on_progress = on_progress
        self.stopped = False
        self.best: Candidate | None = None
        self.rounds = 0
        self.reported = self.started
        laid = sum(order.count * shapely.get_num_coordinates(order.outline) for order in job.pieces)
        self.stop_at = (
            self.started
            + seconds
            - min(0.5 * seconds, max(0.0, laid * JUDGING_SECONDS_PER_VERTEX - 0.5))
        )

    def run(self) -> Plan:
        if self.job.copies and self.job.metal:
            self.builder = Builder(self.job)
            self._search()
        return self._plan()

    def _search(self) -> None:
        first = self._first_strategies()
        number = 0
        while self.most_rounds is None or number < max(1, self.most_rounds):
            if number > 0 and not self._go_on():
                break
            rng = np.random.default_rng([abs(self.seed), number])
            strategy = first[number] if number < len(first) else self._varied(rng)
            placed, left, whole = self.builder.build(strategy, self._go_on)
            if not whole and self.best is not None:
                break  # the clock cut this round short; the last whole one stands
            self._consider(placed, left, strategy)
            if not whole:
                break
            number += 1
            self.rounds = number
            if number == 1 and self.best is not None:
                for index in self.best.left:
                    self.builder.try_alone(self.builder.copies[index][0], self._go_on)

    def _go_on(self) -> bool:
        """Whether there is time; also reports progress often enough to renew a lease."""
        now = time.monotonic()
        if now - self.reported >= TICK_SECONDS:
            self._report()
        return not self.stopped and now < self.stop_at

    def _report(self) -> None:
        self.reported = time.monotonic()
        if self.on_progress is not None and not self.stopped:
            self.stopped = self.on_progress(self._plan()) is False

    def _consider(
        self, placed: Sequence[Placement], left: Sequence[int], strategy: Strategy
    ) -> None:
        """Judge a plan and keep it when it is the best so far."""
        kept = list(placed)
        dropped = list(left)
        wrong = faults(self.job, kept)
        if wrong and self.best is not None:
            return
        numbers = {
            (shape.order.id, copy): index for index, (shape, copy) in enumerate(self.builder.copies)
        }
        while wrong:  # a first plan must stand in any case: without what the judge faults
            bad = {(fault.piece, fault.copy) for fault in wrong}
            kept = [p for p in kept if (p.piece, p.copy) not in bad]
            dropped.extend(sorted(numbers[key] for key in bad))
            wrong = faults(self.job, kept)
        measures, offcuts = measure(self.job, kept)
        candidate = Candidate(tuple(kept), tuple(dropped), measures, offcuts, strategy)
        if self.best is None or candidate.key(self.job) < self.best.key(self.job):
            self.best = candidate
            self._report()

    def _first_strategies(self) -> list[Strategy]:
        """The plans made first: fill directions, orders of pieces and of metals in turn."""
        copies = self.builder.copies
        # by the area that a shell covers: a frame goes before what may lie in its window
        by_area = sorted(range(len(copies)), key=lambda i: (-copies[i][0].covered, i))
        by_length = sorted(range(len(copies)), key=lambda i: (-copies[i][0].longest, i))
        metals = self._metal_orders()
        largest = max(self.job.metal, key=lambda metal: metal.outline.area)
        x0, y0, x1, y1 = largest.outline.bounds
        fills: tuple[str, ...] = ALONG if x1 - x0 >= y1 - y0 else ACROSS
        if self.job.goal == "strip":
            fills = ("EN", "ES")
        found = [Strategy(fills[0], tuple(by_area), metals[0])]
        found.extend(Strategy(fills[0], tuple(by_area), order) for order in metals[1:])
        for fill in fills[1:]:
            found.append(Strategy(fill, tuple(by_area), metals[0]))
        found.append(Strategy(fills[0], tuple(by_length), metals[0]))
        found.append(Strategy(fills[0], tuple(by_area), metals[0], wide=True))
        return found

    def _metal_orders(self) -> list[tuple[int, ...]]:
        """Orders in which to try the metals: cheapest first, largest first, each one first."""
        metal = self.job.metal
        numbers = range(len(metal))
        cheap = sorted(numbers, key=lambda i: (metal[i].outline.area * metal[i].price_per_mm2, i))
        large = sorted(numbers, key=lambda i: (-metal[i].outline.area, i))
        need = sum(shape.area for shape, _ in self.builder.copies)
        alone = [i for i in cheap if metal[i].outline.area >= 1.1 * need][:4]
        orders = [tuple(cheap), tuple(large)]
        orders.extend((i, *(j for j in cheap if j != i)) for i in alone)
        return list(dict.fromkeys(orders))

    def _varied(self, rng: np.random.Generator) -> Strategy:
        """The best plan's strategy with a few pieces moved in its sequence, or more changed."""
        assert self.best is not None
        strategy = self.best.strategy
        sequence = list(strategy.sequence)
        if len(sequence) > 1:
            for _ in range(int(rng.integers(1, 4))):
                a, b = (int(v) for v in rng.integers(0, len(sequence), 2))
                sequence.insert(b, sequence.pop(a))
        metals = list(strategy.metals)
        if len(metals) > 1 and rng.random() < 0.3:
            a, b = (int(v) for v in rng.integers(0, len(metals), 2))
            metals[a], metals[b] = metals[b], metals[a]
        fill = strategy.fill
        if rng.random() < 0.2:
            fills = ("EN", "ES") if self.job.goal == "strip" else ALONG
            fill = fills[int(rng.integers(0, len(fills)))]
        wide = strategy.wide if rng.random() < 0.8 else not strategy.wide
        return Strategy(fill, tuple(sequence), tuple(metals), wide)

    def _plan(self) -> Plan:
        """The best plan as it stands; with nothing placed where there is none yet."""
        seconds = round(time.monotonic() - self.started, 3)
        best = self.best
        if best is None:
            why = NO_METAL if not self.job.metal else NO_TIME
            left = [
                Unplaced(order.id, copy, why)
                for order in self.job.pieces
                for copy in range(order.count)
            ]
            return Plan((), tuple(left), Measures(), (), self.seed, seconds, self.rounds)
        unplaced = [self._unplaced(index) for index in best.left]
        return Plan(
            best.placements,
            tuple(unplaced),
            best.measures,
            best.offcuts,
            self.seed,
            seconds,
            self.rounds,
        )

    def _unplaced(self, index: int) -> Unplaced:
        shape, copy = self.builder.copies[index]
        if not self.rounds:
            why = NO_TIME
        else:
            fits = self.builder.fitting.get(shape.index)
            why = NOT_FOUND if fits is None else NO_ROOM if fits else TOO_LARGE
        return Unplaced(shape.order.id, copy, why)
