"""Round after round towards a better parted plan: what `place` runs where metal is parted."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
import shapely

from studio.core.cutting.job import Blank, Job, Parting, Placement, Plan, Unplaced
from studio.core.cutting.job import Cut as PartingCut
from studio.core.placing import search as undivided
from studio.core.placing.candidates import (
    NO_METAL,
    NO_ROOM,
    NO_TIME,
    NO_TURN,
    TOO_LARGE,
    TOO_MUCH,
)
from studio.core.placing.too_large import TooLarge
from studio.core.placing.version import WITHOUT_COMPILING as PLAIN
from studio.core.placing.warming import is_warm_for_parting, warm_up_aside
from studio.core.verifying import measure

from .blanks import job_on_part, trimmed
from .draft import Draft, Judged, judged, outlines_of, without_faults
from .groups import (
    Copy,
    Group,
    groups_of,
)
from .guillotine import Packing, Way
from .metal import core_of
from .packing import Chosen, Floor
from .standing import begun, separate_fixed

Chance = np.random.Generator

NO_BLANK = "no part of the metal is left that could hold it with the rest of its group"
FIRST_HEIGHTS, HEIGHTS = 2, 7
FIRST_TRIES, TRIES = 12, 60  # packings
BATCH = 12  # forms sought in one round
ALONE_ROUNDS = 2  # of the undivided search for one group on one part
DRAW_ROUNDS = 7
FIRST_FREE, MOST_FREE = 2, 8  # free parts that are looked at for one group
FULL = 1.25  # times its area a group needs at least, mostly
MOST_SMALL, MOST_LARGE = 40, 20  # stock pieces in which blanks are packed
TICK_SECONDS = 0.5
MOST_SECONDS = 600.0
JUDGING = 1.5  # times as long as without cuts


class Cut(Exception):
    """The clock, or the caller, ended a round; nothing of it counts."""


class PartedSearch:
    """One run of the engine on one job whose metal is parted."""

    def __init__(
        self,
        job: Job,
        parting: Parting,
        seconds: float | None,
        seed: int,
        workers: int,
        rounds: int | None,
        on_progress: Callable[[Plan], bool] | None,
        first_within: float = 0.0,
    ) -> None:
        if seconds is None and rounds is None:
            raise ValueError("A search wants a number of seconds, of rounds, or both.")
        self.started = _now()
        self.first_by = self.started + first_within
        self.job, self.parting = job, parting
        self.seconds = math.inf if seconds is None else seconds
        self.seed, self.plan_seed = abs(seed), seed
        self.workers = workers
        self.plain = rounds is not None and rounds > PLAIN
        self.most_rounds = rounds if rounds is None or not self.plain else rounds - PLAIN
        self.on_progress = on_progress
        self.stopped = False
        self.reported = self.started
        self.rounds = 0
        self.late = False  # the clock ran out before there was a plan
        self.best: Judged | None = None
        self.too_large = TooLarge(job)
        laid = sum(w.count * shapely.get_num_coordinates(w.outline) for w in job.pieces)
        judging = 0.4 + JUDGING * laid * undivided.BY_HAND_SECONDS_PER_VERTEX
        self.stop_at = self.started + self.seconds - min(0.5 * self.seconds, judging)
        self.way: Way | None = None
        self.packed: tuple[float, float] | None = None  # the best packing that was judged
        self.queue: list[tuple[int, int, float]] = []  # group, core, height: yet to be tried

    def run(self) -> Plan:
        if self.job.copies and self.job.metal:
            self._prepare()
            self._search()
        return self._plan()

    # Getting ready

    def _prepare(self) -> None:
        job = self.job
        self.standing = {(p.piece, p.copy) for p in job.fixed}
        self.base = Draft(job, self.parting)
        separate_fixed(self.base)
        self.groups = groups_of(job, self.standing)
        self.all_groups = {g.name: g for g in groups_of(job)}
        self.left_standing: list[Copy] = []

    def _find_cores(self) -> None:
        """Rectangles to pack blanks in, on all metal on which nothing stands."""
        cores = []
        for index in self._promising_metal():
            for number, part in sorted(self.base.of(index).leaves.items()):
                core = None
                if not self.base.laid.get((index, number)):
                    core = core_of(self.job, self.parting, index, part)
                if core is not None:
                    cores.append(core)
        self.floor = Floor(self.job, self.parting, self.groups, cores)

    def _promising_metal(self) -> list[int]:
        """The stock pieces in which blanks are packed, by number: the smallest that may hold some
        group and the largest, where there are very many."""
        areas = [metal.outline.area for metal in self.job.metal]
        least = min((group.area for group in self.groups), default=0.0)
        able = sorted((k for k, area in enumerate(areas) if area > least), key=lambda k: areas[k])
        return sorted({*able[:MOST_SMALL], *able[-MOST_LARGE:]})

    # Rounds

    def _search(self) -> None:
        while self._wants(self.rounds):
            chance = np.random.default_rng([self.seed, self.rounds, 18])
            try:
                if self.rounds == 0:
                    self._first()
                else:
                    if self.rounds == 1 and not self.plain:
                        self.plain = not self._kernels_are_ready()
                    self._one_round(chance)
            except Cut:
                return
            self.rounds += 1

    def _wants(self, number: int) -> bool:
        if self.most_rounds is not None and number >= max(1, self.most_rounds):
            return False
        return number == 0 or self._go_on()

    def _kernels_are_ready(self) -> bool:
        """Whether the compiled search is at hand, soon enough to be worth waiting for."""
        warm_up_aside()
        enough = _now() + min(undivided.WAIT_SECONDS, undivided.WAIT_SHARE * self.seconds)
        while not is_warm_for_parting():
            if not self._go_on():
                raise Cut
            if self.most_rounds is None and _now() > enough:
                return False
            undivided.pause()
        return True

    def _first(self) -> None:
        """A plan from few forms, packed once or a few times."""
        self._add_to_standing()
        self._find_cores()
        if self.job.start:
            self.best = begun(self.base)
            self._report()
        try:
            self._seek_first(range(len(self.groups)))
            if self._split_what_no_metal_holds():
                self._find_cores()
                self._seek_first(g for g, own in enumerate(self.groups) if own.only_on is not None)
        except Cut:  # what forms there are make a first plan
            self.late = True
        self.queue = [entry[:3] for entry in self._wanted_heights(range(len(self.groups)))]
        chance = np.random.default_rng([self.seed, 18])
        self._pack(FIRST_TRIES, chance)
        if self.best is None:
            rest = [copy for group in self.groups for copy in group.all_copies]
            self._consider(self.base, [*self.left_standing, *rest])
        if self.late:
            raise Cut

    def _seek_first(self, groups: Iterable[int]) -> None:
        for g, c, high, rank in self._wanted_heights(groups):
            if rank < FIRST_HEIGHTS:
                self._form(g, c, high, compiled=False)

    def _split_what_no_metal_holds(self) -> bool:
        """Groups that lie whole on no stock piece as several, each on one; whether there are."""
        groups: list[Group] = []
        for g, group in enumerate(self.groups):
            if self._is_held(g, group):
                groups.append(group)
                continue
            alone = replace(
                self.job,
                pieces=group.orders(),
                fixed=(),
                start=(),
                parting=None,
                goal="plan",
                metal=tuple(
                    metal
                    for index, metal in enumerate(self.job.metal)
                    if not any(key[0] == index for key in self.base.laid)
                ),
            )
            placed: list[Placement] = []
            if alone.metal:
                for p in self._undivided(alone, ALONE_ROUNDS).placements:
                    placed.extend(group.named([p], p.metal))
            lies: dict[str, list[Copy]] = {}
            for p in placed:
                lies.setdefault(p.metal, []).append((p.piece, p.copy))
            numbers = {metal.id: k for k, metal in enumerate(self.job.metal)}
            groups.extend(
                replace(group.only(copies), only_on=numbers[name])
                for name, copies in sorted(lies.items())
            )
            found = {copy for copies in lies.values() for copy in copies}
            self.left_standing.extend(c for c in group.all_copies if c not in found)
        if groups == self.groups:
            return False
        self.groups = groups
        return True

    def _is_held(self, g: int, group: Group) -> bool:
        """Whether some stock piece can hold a whole group."""
        if self.floor.has_room_for(g):
            return True
        for index, metal in enumerate(self.job.metal):
            if metal.outline.area < group.area or any(k[0] == index for k in self.base.laid):
                continue
            if len(self._on_part(self.base, index, 0, group)) == group.count:
                return True
        return False

    def _wanted_heights(self, groups: Iterable[int]) -> list[tuple[int, int, float, int]]:
        """Which forms to seek: group, core, height, its rank; the most promising heights first."""
        found = [(g, *entry) for g in groups for entry in self.floor.heights(g, HEIGHTS)]
        return sorted(found, key=lambda entry: (entry[3], entry[0], entry[1]))

    def _form(self, g: int, c: int, high: float, *, compiled: bool, seed: int = 1) -> None:
        former = self.floor.former(g, c)
        former.seek(high, self.floor.widest, self._go_on_or_first, seed=seed, compiled=compiled)
        if not self._go_on_or_first():
            raise Cut

    def _one_round(self, chance: Chance) -> None:
        """Seek some forms and pack anew, or draw one group in where it lies."""
        if self.queue:
            batch, self.queue = self.queue[:BATCH], self.queue[BATCH:]
            for k, (g, c, high) in enumerate(batch):
                self._form(g, c, high, compiled=not self.plain, seed=self.seed + k)
            self._pack(TRIES, chance)
            if not self.queue:
                self._widen()
                self._pack(TRIES, chance)
            return
        if self.rounds % 2 and self.best is not None:
            self._draw_in(chance)
            return
        self._again(chance)
        self._widen()
        self._pack(TRIES, chance)

    def _widen(self) -> None:
        wide = self.floor.widest
        for _, former in sorted(self.floor.formers.items()):
            former.widen(wide, wide, self._go_on)
            if not self._go_on():
                raise Cut

    def _again(self, chance: Chance) -> None:
        """Seek better forms for groups that waste most, at the heights they are used at."""
        if not self.floor.formers:
            return
        keys = sorted(self.floor.formers)
        waste = np.array(
            [
                min((f.need for f in self.floor.formers[k].forms), default=0.0)
                - self.floor.formers[k].area
                for k in keys
            ]
        )
        weight = np.maximum(waste, 1.0) ** 2
        for _ in range(BATCH):
            k = keys[int(chance.choice(len(keys), p=weight / weight.sum()))]
            former = self.floor.formers[k]
            c = next(c for c in self.floor.largest if self.floor.keys[k[0], c] == k[1])
            if former.forms and chance.random() < 0.7:
                form = former.forms[int(chance.integers(0, len(former.forms)))]
                high = form.high if chance.random() < 0.7 else form.wide
            else:
                high = math.sqrt(1.6 * former.area) * float(np.exp(chance.uniform(-0.6, 0.6)))
            self._form(
                k[0],
                c,
                round(high, 3),
                compiled=not self.plain,
                seed=int(chance.integers(1, 10**9)),
            )

    # Packing

    def _pack(self, tries: int, chance: Chance) -> None:
        """Pack what forms there are, and judge the best packing where it may be better."""
        packer, chosen = self.floor.packer()
        if packer is None:
            self._consider_packing(None, [])
            return
        way = self.way or packer.first_way()
        best = packer.pack(way, go_on=None if self.late else self._go_on_or_first)
        for _ in range(0 if self.late else tries):
            if not self._go_on_or_first():
                if self.best is None:
                    break
                raise Cut
            way, best = packer.improve(way, best, 1, chance)
        self.way = way
        key = packer.key(best)
        if self.packed is None or key < self.packed or self.best is None:
            self._consider_packing(best, chosen)
            self.packed = key

    def _consider_packing(self, packing: Packing | None, chosen: Sequence[Chosen]) -> None:
        draft = self.base.copy()
        done: set[int] = set()
        if packing is not None:
            done = self.floor.cut_out(draft, packing, chosen)
        left: list[Copy] = list(self.left_standing)
        for g, group in enumerate(self.groups):
            if g not in done:
                left.extend(group.all_copies if self.late else self._lay_somewhere(draft, group))
        if not self.late and self.best is not None and not self._go_on():
            raise Cut
        self._consider(draft, left)

    # Groups by themselves

    def _add_to_standing(self) -> None:
        """What else the groups want that have pieces on metal already, laid beside those."""
        remaining = []
        for group in self.groups:
            whole = self.all_groups[group.name]
            own = [
                (key, laid)
                for key, laid in self.base.laid.items()
                if laid and self.job.wanted_by_id[laid[0].piece].group == group.name
            ]
            if not own:
                remaining.append(group)
                continue
            wanted = set(group.all_copies)
            for (index, number), fixed in own:
                placed = self._on_part(
                    self.base,
                    index,
                    number,
                    whole.only({*wanted, *((p.piece, p.copy) for p in fixed)}),
                    fixed,
                )
                self.base.laid[index, number] = placed
                wanted -= {(p.piece, p.copy) for p in placed}
            self.left_standing.extend(sorted(wanted))
        for (index, number), laid in list(self.base.laid.items()):
            if laid:
                after = trimmed(
                    self.job, self.base.parts[index], number, outlines_of(self.job, laid)
                )
                if after is not None and after != number:
                    self.base.laid[index, after] = self.base.laid.pop((index, number))
        self.groups = remaining

    def _on_part(
        self, draft: Draft, index: int, number: int, group: Group, fixed: Sequence[Placement] = ()
    ) -> list[Placement]:
        """As many of a group's pieces as find a place on a part, those that stand among them."""
        metal = self.job.metal[index]
        part = draft.of(index).leaves[number]
        copies = {
            (w.id, copy): k
            for w, own in zip(group.kinds, group.copies, strict=True)
            for k, copy in enumerate(own)
        }
        stand = [replace(p, copy=copies[p.piece, p.copy]) for p in fixed]
        job = job_on_part(self.job, self.parting, metal, part, group, fixed=stand)
        if job is None:
            return list(fixed)
        plan = self._undivided(job, ALONE_ROUNDS)
        return group.named(plan.placements, metal.id)

    def _undivided(self, job: Job, rounds: int, seed: int = 1) -> Plan:
        """The undivided search on a job of one group, for so many rounds.

        Only our own clock ends it early, as what is done by less than all rounds must not count.
        """
        left = None if math.isinf(self.seconds) else MOST_SECONDS
        return undivided.Search(
            job,
            left,
            seed,
            self.workers,
            rounds + (PLAIN if self.plain else 0),
            lambda _: self._go_on_or_first(),
        ).run()

    def _lay_somewhere(self, draft: Draft, group: Group) -> list[Copy]:
        """A group that no packing took, on the free part where most of it finds a place; the
        copies that are left out."""
        best: tuple[int, int, list[Placement]] | None = None
        for index, number in self._free_for(draft, group):
            placed = self._on_part(draft, index, number, group)
            if not self._go_on_or_first():
                if self.best is not None:
                    raise Cut
                self.late = True
                return group.all_copies
            if placed and (best is None or len(placed) > len(best[2])):
                best = (index, number, placed)
            if len(placed) == group.count:
                break
        if best is None:
            return group.all_copies
        index, number, placed = best
        parts = draft.of(index).copy()
        after = trimmed(self.job, parts, number, outlines_of(self.job, placed))
        if after is None:
            return group.all_copies
        draft.parts[index] = parts
        draft.laid[index, after] = placed
        lies = {(p.piece, p.copy) for p in placed}
        return [copy for copy in group.all_copies if copy not in lies]

    def _free_for(self, draft: Draft, group: Group) -> list[tuple[int, int]]:
        """Free parts on which a group may find a place: those first that may hold all of it, the
        smallest of them first."""
        found = []
        for index in range(len(self.job.metal)):
            if not group.may_lie_on(index):
                continue
            for number, part in draft.of(index).leaves.items():
                area = part.region.area
                if draft.laid.get((index, number)) or all(
                    w.outline.area > area for w in group.kinds
                ):
                    continue
                whole = area >= FULL * group.area
                found.append((not whole, area if whole else -area, index, number))
        few = MOST_FREE if self.rounds else FIRST_FREE
        return [entry[2:] for entry in sorted(found)[:few]]

    def _draw_in(self, chance: Chance) -> None:
        """One group laid anew on the blank that it has, from where it lies."""
        best = self.best
        assert best is not None
        keys = sorted(k for k, laid in best.draft.laid.items() if laid)
        if not keys:
            return
        key = keys[int(chance.integers(0, len(keys)))]
        index, number = key
        laid = best.draft.laid[key]
        stand = [p for p in laid if (p.piece, p.copy) in self.standing]
        name = self.job.wanted_by_id[laid[0].piece].group
        group = self.all_groups[name].only((p.piece, p.copy) for p in laid)
        copies = {
            (w.id, copy): k
            for w, own in zip(group.kinds, group.copies, strict=True)
            for k, copy in enumerate(own)
        }
        metal = self.job.metal[index]
        job = job_on_part(
            self.job,
            self.parting,
            metal,
            best.draft.parts[index].leaves[number],
            group,
            start=[replace(p, copy=copies[p.piece, p.copy]) for p in laid if p not in stand],
            fixed=[replace(p, copy=copies[p.piece, p.copy]) for p in stand],
        )
        if job is None:
            return
        plan = self._undivided(job, DRAW_ROUNDS, int(chance.integers(1, 10**6)))
        if not self._go_on():
            raise Cut
        if plan.unplaced:
            return
        draft = best.draft.copy()
        draft.laid[key] = group.named(plan.placements, metal.id)
        self._consider(draft, best.left)
        draft = draft.copy()
        after = trimmed(
            self.job, draft.parts[index], number, outlines_of(self.job, draft.laid[key])
        )
        if after is not None and after != number:
            draft.laid[index, after] = draft.laid.pop(key)
            self._consider(draft, best.left)

    # What is best

    def _consider(self, draft: Draft, left: Sequence[Copy]) -> bool:
        """Judge a draft and keep it where it is the best so far."""
        first = self.best is None
        if first:
            draft, left = without_faults(draft, left)
        elif self.best is not None and len(left) > len(self.best.left):
            return False
        found = judged(draft, left, known=first)
        if found is None or (self.best is not None and found.key >= self.best.key):
            return False
        self.best = found
        self._report()
        return True

    def _go_on(self) -> bool:
        now = _now()
        if now - self.reported >= TICK_SECONDS:
            self._report()
        return not self.stopped and now < self.stop_at

    def _go_on_or_first(self) -> bool:
        """The same; before there is a plan, time goes on as long as the first one is waited for."""
        going = self._go_on()
        if self.rounds == 0 and not self.stopped and _now() < self.first_by:
            return True
        return going

    def _report(self) -> None:
        self.reported = _now()
        if self.on_progress is not None and not self.stopped:
            self.stopped = self.on_progress(self._plan()) is False

    def _plan(self) -> Plan:
        seconds = round(_now() - self.started, 3)
        job, best = self.job, self.best
        by_hand = job.hands is not None
        if best is None:
            why = NO_METAL if not job.metal else NO_TIME
            standing = {(p.piece, p.copy) for p in job.fixed}
            left = tuple(
                Unplaced(w.id, copy, why)
                for w in job.pieces
                for copy in range(w.count)
                if (w.id, copy) not in standing
            )
            cuts: tuple[PartingCut, ...] = ()
            blanks: tuple[Blank, ...] = ()
            if job.copies and job.metal:
                cuts, blanks = self.base.cuts(), self.base.blanks()
            measures, offcuts = measure(job, job.fixed, cuts)
            return Plan(
                job.fixed,
                left,
                measures,
                offcuts,
                self.plan_seed,
                seconds,
                0,
                by_hand,
                cuts,
                blanks,
            )
        placements = best.draft.placements()
        return Plan(
            (*job.fixed, *(p for p in placements if (p.piece, p.copy) not in self.standing)),
            tuple(Unplaced(*copy, self._why_left(copy)) for copy in best.left),
            best.measures,
            best.offcuts,
            self.plan_seed,
            seconds,
            self.rounds + (PLAIN if self.plain else 0),
            by_hand,
            best.draft.cuts(),
            best.draft.blanks(),
        )

    @cached_property
    def too_much(self) -> bool:
        """Whether it is proved that all pieces together are larger than the metal."""
        return self.too_large.all_together()

    def _why_left(self, copy: Copy) -> str:
        """Why a piece has no place: what is proved, else what was found."""
        if not self.rounds:
            return NO_TIME
        wanted = self.job.wanted_by_id[copy[0]]
        if not self.too_large.may_lie(wanted):
            return NO_TURN
        if self.too_large.proved(wanted):
            return TOO_LARGE
        if self.too_much:
            return TOO_MUCH
        return NO_BLANK if len(self.all_groups[wanted.group].all_copies) > 1 else NO_ROOM


def _now() -> float:
    return undivided.now()
