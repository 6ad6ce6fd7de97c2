"""Round after round, each trying one way to a better plan: what `place` runs."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from studio.core.cutting.job import Job, Placement, Plan, Unplaced
from studio.core.placing.candidates import (
    NO_METAL,
    NO_ROOM,
    NO_TIME,
    NO_TURN,
    NOT_FOUND,
    TOO_LARGE,
    TOO_MUCH,
    Candidate,
)
from studio.core.placing.strategies import (
    any_way,
    first_strategies,
    largest_first,
    some_taken_up,
    straight_share,
    varied,
)
from studio.core.placing.version import WITHOUT_COMPILING as PLAIN
from studio.core.verifying import faults, measure

from .laying.blocks import Form, Unit, joined_at_random, units_of
from .laying.construct import Strategy
from .warming import is_warm, warm_up_aside

if TYPE_CHECKING:
    from studio.core.placing.shapes import Shape

    from .separating.improve import Improver
    from .strips.rounds import Shortener
    from .taking_in import TakingIn
    from .too_large import TooLarge

TICK_SECONDS = 0.5  # a lease is renewed at each progress report
MEASURING_SHARE = 10.0  # a strip is measured on the way when that takes less than a tenth
JUDGING_SECONDS_PER_VERTEX = 25e-6  # measured on a slow machine, with room
BY_HAND_SECONDS_PER_VERTEX = 75e-6  # judged by the rules for hands it takes longer

# Ways to a better plan, and about how long one try takes against the others.
DRAW, POLISH, LAY, VARY, JOIN = "draw in", "polish", "lay some anew", "vary all", "join"
TAKE = "take in"
EFFORT = {DRAW: 4.0, POLISH: 3.0, LAY: 1.0, VARY: 3.0, JOIN: 1.5, TAKE: 4.0}
# drawing in goes on where its last round ended, and so does taking in
FADES, USUAL_FADE = {DRAW: 0.85, TAKE: 0.95}, 0.7
FULL_BLOCKS = 0.7  # where pieces are left out: how often blocks are as large as the metal holds
KEPT_JOINED = 0.6  # how often a plan of blocks is searched as such, not piece by piece
SHORTER_HELPS = 0.2  # drawing in that saves no money yet
PLAIN_ONES = 2  # plans from nothing, before what they leave out is taken in
LEAST_HOPE = 0.1  # no way is given up for good
TO_BE_PLACED = (5.0, 1.0)  # hope of placing what is left out, at first and after many failures

WAIT_SHARE, WAIT_SECONDS = 0.25, 4.0  # how long the compiled search is waited for
SHORT_SECONDS = 3.0  # a shorter run does not begin to compile


def now() -> float:
    """The clock that every search looks at, in seconds."""
    return time.monotonic()


def pause() -> None:
    """Wait a little for what is made ready aside."""
    time.sleep(0.05)


class Cut(Exception):
    """The clock, or the caller, ended a round; nothing of it counts."""


class Search:
    """One run of the engine on one job."""

    def __init__(
        self,
        job: Job,
        seconds: float | None,
        seed: int,
        workers: int,
        rounds: int | None,
        on_progress: Callable[[Plan], bool] | None,
        first_within: float = 0.0,
    ) -> None:
        if seconds is None and rounds is None:
            raise ValueError("A search wants a number of seconds, of rounds, or both.")
        seconds = math.inf if seconds is None else seconds
        self.started = time.monotonic()
        self.first_by = self.started + first_within
        self.job = job if job.goal == "plan" else replace(job, metal=job.metal[:1])
        self.seconds = seconds
        self.seed = abs(seed)
        self.plan_seed = seed
        self.workers = max(1, workers)
        self.plain = rounds is not None and rounds > PLAIN
        self.most_rounds = rounds if rounds is None or not self.plain else rounds - PLAIN
        self.on_progress = on_progress
        self.stopped = False
        self.best: Candidate | None = None
        self.rounds = 0
        few = 2 if job.goal == "strip" else 6
        self.constructive = few if job.copies <= 100 else 2 if job.copies <= 200 else 1
        self.form = Form(self.job, self.job, {})  # every piece by itself
        self.improvers: dict[int, tuple[Form, Improver]] = {}
        self.taking_in: TakingIn | None = None
        self.shortener: Shortener | None = None
        self.shortest: list[Placement] | None = None  # a strip judged but not measured yet
        self.measuring = 0.0  # seconds that measuring a plan takes
        self.measured = self.started  # when that was last done
        straight = straight_share(self.job)  # round pieces have no lines to share
        self.hope = {
            DRAW: 1.0 - 0.6 * straight,
            POLISH: straight,
            LAY: 0.2 + 0.4 * straight,
            VARY: 0.15,
            TAKE: TO_BE_PLACED[0],
        }
        self.hope[JOIN] = 0.5 + 0.5 * straight
        self.after_drawing = 0.4 * straight
        self.reported = self.started
        laid = sum(
            wanted.count * shapely.get_num_coordinates(wanted.outline) for wanted in job.pieces
        )
        by_hand = job.hands is not None
        judging = BY_HAND_SECONDS_PER_VERTEX if by_hand else JUDGING_SECONDS_PER_VERTEX
        self.stop_at = self.started + seconds - min(0.5 * seconds, max(0.0, laid * judging - 0.5))

    @cached_property
    def units(self) -> dict[int, Unit]:
        """What can be joined into blocks; found when the first plans stand."""
        return {} if self.job.fixed else units_of(self.job)

    @cached_property
    def too_large(self) -> TooLarge:
        """What is proved of pieces that no metal can hold."""
        from .too_large import TooLarge

        return TooLarge(self.job)

    def run(self) -> Plan:
        if self.job.copies and self.job.metal:
            self.builder = self.form.builder
            self.numbers = {
                (shape.wanted.id, copy): index
                for index, (shape, copy) in enumerate(self.builder.copies)
            }
            self._search()
            self._measure_shortest()
        return self._plan()

    def _search(self) -> None:
        strategies = first_strategies(self.job, self.builder)
        while self._wants(self.rounds):
            rng = np.random.default_rng([self.seed, self.rounds])
            try:
                if self.rounds == PLAIN_ONES:
                    self._hurry()
                if self.rounds == 1 and self.best is not None and self.best.left:
                    self._fill(self.best.strategy)
                elif self.rounds < self.constructive:
                    self._build(strategies, rng)
                else:
                    if self.rounds == self.constructive and not self.plain:
                        self.plain = not self._kernels_are_ready()
                    self._one_way(rng)
            except Cut:
                return
            self.rounds += 1
            if self.rounds == 1:
                if self._wants(self.constructive) and self._wants_kernels():
                    warm_up_aside()
                self._try_alone(() if self.best is None else self.best.left)

    def _hurry(self) -> None:
        """No more plans from nothing where the compiled search may place what they leave out."""
        best = self.best
        if self.plain or best is None or not self._may_take_in(best):
            return
        self.plain = not self._kernels_are_ready()
        if not self.plain:
            self.constructive = min(self.constructive, PLAIN_ONES)

    def _try_alone(self, left: Sequence[int]) -> None:
        """Which of the pieces left out find a place when they are the only ones."""
        for index in left:
            shape, _ = self.builder.copies[index]
            self.builder.try_alone(shape, self._go_on)
            if self.builder.fitting.get(shape.index):
                self.too_large.has_fitted(shape.wanted)

    def _wants(self, number: int) -> bool:
        """Whether round `number` (from 0) is to be begun."""
        if self.most_rounds is not None and number >= max(1, self.most_rounds):
            return False
        return number == 0 or self._go_on()

    def _wants_kernels(self) -> bool:
        """Whether the run is long enough for them, or must go as one that had them."""
        return not self.plain and (self.most_rounds is not None or self.seconds >= SHORT_SECONDS)

    def _kernels_are_ready(self) -> bool:
        """Whether the compiled search is at hand, soon enough to be worth waiting for.

        Whoever asks for a number of rounds wants that very plan, and waits.
        """
        tables = self.taking_in is not None and self.taking_in.on_tables
        strips = self.job.goal == "strip" or tables
        if not is_warm(strips=strips) and not self._wants_kernels():
            return False
        enough = time.monotonic() + min(WAIT_SECONDS, WAIT_SHARE * self.seconds)
        while not is_warm(strips=strips):
            if not self._go_on():
                raise Cut
            if self.most_rounds is None and time.monotonic() > enough:
                return False
            time.sleep(0.05)
        return True

    def _build(self, strategies: Sequence[Strategy], rng: np.random.Generator) -> None:
        """A plan from nothing, or the first from where the job says."""
        if self.rounds == 0 and self.job.start:
            self._begin_from(self.job.start, strategies[0])
            return
        if self.rounds < len(strategies) or self.best is None:
            strategy = strategies[self.rounds % len(strategies)]
        else:
            strategy = varied(self.job, self.best.strategy, rng)
        placed, left, whole = self.builder.build(strategy, self._go_on)
        if not whole and self.best is not None:
            raise Cut
        if self.best is not None and self._on_tables(self.best):
            self._note_if_shorter(self.best, placed, left)
        else:
            self._consider(placed, left, strategy)
        if not whole:
            raise Cut

    def _begin_from(self, start: Sequence[Placement], strategy: Strategy) -> None:
        """What of a given layout is without fault, and the rest laid round it."""
        known = tuple(p for p in start if (p.piece, p.copy) in self.numbers)
        kept, _ = self._without_faults(known, ())
        laid = {self.numbers[p.piece, p.copy] for p in kept}
        rest = tuple(index for index in strategy.sequence if index not in laid)
        self._consider(kept, rest, strategy)
        again = replace(strategy, sequence=rest, patient=True, swift=False)
        placed, left, whole = self.builder.build(again, self._go_on, kept)
        if len(placed) > len(kept):
            self._consider(placed, left, strategy)
        if not whole:
            raise Cut

    def _fill(self, strategy: Strategy) -> None:
        """A plain fill of the raster, and what still finds room in it: never fewer than that."""
        from .laying.fill import raster_fill

        filled, _ = self._without_faults(tuple(raster_fill(self.job, self._go_on)), ())
        laid = {self.numbers[p.piece, p.copy] for p in filled}
        rest = tuple(index for index in strategy.sequence if index not in laid)
        again = replace(strategy, sequence=rest, patient=True, swift=False)
        placed, left, whole = self.builder.build(again, self._go_on, filled)
        if not whole or not self._go_on():
            raise Cut
        self._consider(placed, left, strategy)

    def _one_way(self, rng: np.random.Generator) -> None:
        """One round: a way chosen by how often it has helped, against the time it takes."""
        best = self.best
        takes = best is not None and not self.plain and self._may_take_in(best)
        if best is None or not (best.placements or takes):
            raise Cut
        if self.job.goal == "strip" and not self.plain and self._shortens(best):
            return
        if self.job.goal == "strip" and not self.plain:
            ways = [DRAW]
        else:
            ways = [LAY, VARY] if self.plain else [DRAW, POLISH, LAY, VARY]
            # by hand, blocks also fit where single pieces would each want their gap
            joins = not best.left or self.job.hands is not None
            if self.job.goal == "plan" and joins and self.units:
                ways.append(JOIN)
        if takes:
            ways = [*ways, TAKE] if best.placements else [TAKE]
        # squared: as long as one way goes on helping, the others hardly get in between
        weight = np.array([max(self.hope[way], LEAST_HOPE) ** 2 / EFFORT[way] for way in ways])
        way = ways[int(rng.choice(len(ways), p=weight / weight.sum()))]
        if best.form is not self.form and rng.random() > KEPT_JOINED:
            best = replace(
                best,
                form=self.form,
                laid=best.placements,
                strategy=largest_first(self.form.builder, best.strategy),
            )
        if way == TAKE:
            helped = self._take_in(best)
        elif way == DRAW:
            helped = self._draw_in(best)
        elif way == POLISH:
            helped = self._polish(best)
        elif way == LAY:
            strategy, kept = some_taken_up(
                best.form.builder, best.laid, best.left, best.strategy, rng
            )
            helped = self._try(best.form, strategy, kept, best.strategy)
        elif way == JOIN:
            full = bool(best.left) and rng.random() < FULL_BLOCKS
            form = joined_at_random(self.job, self.units, rng, full=full)
            helped = 0.0
            if form is not None:
                strategy = any_way(form.builder, best.strategy.metals, rng)
                helped = self._try(form, strategy, [], strategy)
        else:
            strategy = varied(best.form.job, best.strategy, rng)
            helped = self._try(best.form, strategy, [], strategy)
        fade = FADES.get(way, USUAL_FADE)
        self.hope[way] = fade * self.hope[way] + (1.0 - fade) * helped
        self.hope[TAKE] = max(self.hope[TAKE], TO_BE_PLACED[1])
        if way == DRAW and helped == 1.0:
            self.hope[POLISH] = max(self.hope[POLISH], self.after_drawing)

    def _try(
        self, form: Form, strategy: Strategy, kept: Sequence[Placement], remember: Strategy
    ) -> float:
        placed, left, whole = form.builder.build(strategy, self._go_on, kept)
        if not whole:
            raise Cut
        return float(self._consider(placed, left, remember, form))

    def _may_take_in(self, best: Candidate) -> bool:
        """Whether the metal is large enough for one of the pieces left out beside all others."""
        from .taking_in import TakingIn, metals_worth

        if not best.left:
            return False
        if self.taking_in is None:
            metals = metals_worth(self.job, best.strategy.metals, best.placements)
            if not metals:
                return False
            shapes, copies = self.builder.shapes, self.builder.copies
            self.taking_in = TakingIn(self.job, shapes, copies, metals, self.too_large)
        return bool(self.taking_in.could_hold(best.placements, best.left))

    def _take_in(self, best: Candidate) -> float:
        """One round of placing what is left out; 1 when fewer are."""
        from .taking_in import Round

        assert self.taking_in is not None
        chance, share = (self.seed, self.rounds), self._share()
        at = Round(best.placements, best.left, *chance, share, self.workers, self._go_on)
        found = self.taking_in.round(at)
        if found is None:
            raise Cut
        better = [self._consider(plan.placements, plan.left, best.strategy) for plan in found]
        return float(any(better))

    def _share(self) -> float:
        """How much of the search lies behind: by rounds, whatever the clock says, or by it."""
        if self.most_rounds is not None:
            return self.rounds / self.most_rounds
        return (time.monotonic() - self.started) / self.seconds

    def _draw_in(self, best: Candidate) -> float:
        """One round of guided local search; 1 when the plan is better, less when only shorter."""
        improver = self._improver_for(best)
        if not improver.round(self.seed, self.rounds, self.workers, self._go_on):
            raise Cut
        for lane in improver.candidates():
            laid = improver.placements(lane)
            if not self._faulty(best.form.taken_apart(laid)):
                improver.adopt(lane)
                better = self._consider(laid, best.left, best.strategy, best.form)
                return 1.0 if better else SHORTER_HELPS
        improver.adopt(None)
        return 0.0

    def _shortens(self, best: Candidate) -> bool:
        """One round of drawing in a complete strip, where it is of the kind that has tables."""
        from .strips.rounds import Shortener

        if self.shortener is None:
            if not self._on_tables(best):
                return False
            laid = self.shortest or best.placements
            self.shortener = Shortener(self.job, self.builder.shapes, laid)
        found = self.shortener.round(
            self.seed, self.rounds, self.workers, self._share(), self._go_on
        )
        self.shortest = found or self.shortest
        if not self._go_on():
            raise Cut
        return True

    def _on_tables(self, best: Candidate) -> bool:
        """Whether a strip is complete, and of the kind that is drawn in on tables."""
        from .strips.forms import fits_tables

        return self.job.goal == "strip" and not best.left and fits_tables(self.job)

    def _note_if_shorter(
        self, best: Candidate, placed: Sequence[Placement], left: Sequence[int]
    ) -> None:
        """Keep a complete strip that is the shortest so far, to be measured when there is time."""
        shortest = self.shortest or best.placements
        if left or self._right_end(placed) >= self._right_end(shortest):
            return
        if not self._faulty(placed):
            self.shortest = list(placed)

    def _right_end(self, placed: Sequence[Placement]) -> float:
        return max(p.lay(self.job.wanted_by_id[p.piece].outline).bounds[2] for p in placed)

    def _measure_shortest(self) -> None:
        """Make the shortest strip the best plan: its measures take longer than many rounds."""
        placed, self.shortest = self.shortest, None
        if placed is not None and self.best is not None:
            self._consider(placed, self.best.left, self.best.strategy)

    def _polish(self, best: Candidate) -> float:
        """Lay pieces flush, on one lane in the shortest plan and on the other in the cheapest."""
        improver = self._improver_for(best)
        found = improver.polish(self.seed, self.rounds, self.workers, self._go_on, best.laid)
        if not found:
            raise Cut
        better = [self._consider(laid, best.left, best.strategy, best.form) for laid in found]
        return float(any(better))

    def _improver_for(self, best: Candidate) -> Improver:
        """The improver on the best plan's metal; a new one when that is not the old one's."""
        from .separating.improve import Improver

        key = id(best.form)
        kept = self.improvers.get(key)
        if kept is not None and kept[1].takes(best.laid):
            kept[1].follow(best.laid)
            return kept[1]
        touched = {p.metal for p in best.laid}
        metals = [i for i in best.strategy.metals if self.job.metal[i].id in touched]
        improver = Improver(
            best.form.job, best.form.builder.shapes, best.laid, metals, best.strategy.fill
        )
        self.improvers = {k: v for k, v in self.improvers.items() if v[0] is self.form}
        self.improvers[key] = (best.form, improver)
        return improver

    def _go_on(self) -> bool:
        """Whether there is time; also reports progress often enough to renew a lease."""
        now = time.monotonic()
        if now - self.reported >= TICK_SECONDS:
            waited = now - self.measured > MEASURING_SHARE * self.measuring
            if self.on_progress is not None and waited and self.shortest is not None:
                self._measure_shortest()  # and report it
            if self.reported < now:
                self._report()
        stop_at = self.stop_at if self.rounds else max(self.stop_at, self.first_by)
        return not self.stopped and now < stop_at

    def _report(self) -> None:
        self.reported = time.monotonic()
        if self.on_progress is not None and not self.stopped:
            self.stopped = self.on_progress(self._plan()) is False

    def _consider(
        self,
        placed: Sequence[Placement],
        left: Sequence[int],
        strategy: Strategy,
        form: Form | None = None,
    ) -> bool:
        """Judge a plan and keep it when it is the best so far; whether it is.

        What is `left` are copies of single pieces: with blocks nothing may be left.
        """
        form = form or self.form
        if form is not self.form and left:
            return False
        laid = tuple(placed)
        kept = tuple(form.taken_apart(laid))
        if self.best is None:
            kept, left = self._without_faults(kept, left)
            laid = kept
        elif len(left) > len(self.best.left):
            return False
        begun = time.monotonic()
        measures, offcuts = measure(self.job, (*self.job.fixed, *kept))
        self.measured = time.monotonic()
        self.measuring = self.measured - begun
        candidate = Candidate(kept, tuple(left), measures, offcuts, strategy, form, laid)
        if self.best is not None:
            if candidate.key(self.job) >= self.best.key(self.job):
                return False
            if self._faulty(kept):
                return False
        if self.best is None and self.job.goal == "strip":  # the shortest is measured at the end
            self.stop_at -= min(0.3 * self.seconds, max(0.0, 1.3 * self.measuring - 0.4))
        self.best = candidate
        self._report()
        return True

    def _faulty(self, placed: Sequence[Placement]) -> bool:
        """Whether the judge finds any fault, what stands counted in."""
        return bool(faults(self.job, (*self.job.fixed, *placed)))

    def _without_faults(
        self, placed: tuple[Placement, ...], left: Sequence[int]
    ) -> tuple[tuple[Placement, ...], Sequence[int]]:
        """A first plan must stand in any case: without the pieces that the judge faults."""
        dropped = list(left)
        standing = {(p.piece, p.copy) for p in self.job.fixed}
        # of two that are too near the judge names the first: what stands comes last
        while wrong := faults(self.job, (*placed, *self.job.fixed)):
            bad = {(fault.piece, fault.copy) for fault in wrong} - standing
            if not bad:
                return (), [*dropped, *(self.numbers[p.piece, p.copy] for p in placed)]
            placed = tuple(p for p in placed if (p.piece, p.copy) not in bad)
            dropped.extend(sorted(self.numbers[key] for key in bad))
        return placed, dropped

    def _plan(self) -> Plan:
        """The best plan as it stands; with nothing placed where there is none yet."""
        seconds = round(time.monotonic() - self.started, 3)
        best = self.best
        by_hand = self.job.hands is not None
        if best is None:
            why = NO_METAL if not self.job.metal else NO_TIME
            fixed = self.job.fixed
            standing = {(p.piece, p.copy) for p in fixed}
            left = [
                Unplaced(wanted.id, copy, why)
                for wanted in self.job.pieces
                for copy in range(wanted.count)
                if (wanted.id, copy) not in standing
            ]
            measures, offcuts = measure(self.job, fixed)
            return Plan(fixed, tuple(left), measures, offcuts, self.plan_seed, seconds, 0, by_hand)
        return Plan(
            (*self.job.fixed, *best.placements),
            tuple(self._unplaced(index) for index in best.left),
            best.measures,
            best.offcuts,
            self.plan_seed,
            seconds,
            self.rounds + (PLAIN if self.plain else 0),
            by_hand,
        )

    def _unplaced(self, index: int) -> Unplaced:
        shape, copy = self.builder.copies[index]
        return Unplaced(shape.wanted.id, copy, self._why_left(shape) if self.rounds else NO_TIME)

    def _why_left(self, shape: Shape) -> str:
        """Why a piece has no place: what is proved, else what was found."""
        if not self.too_large.may_lie(shape.wanted):
            return NO_TURN
        if self.too_large.proved(shape.wanted):
            return TOO_LARGE
        if self.too_large.all_together():
            return TOO_MUCH
        return NO_ROOM if self.builder.fitting.get(shape.index) else NOT_FOUND
