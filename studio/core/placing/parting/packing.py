"""Between groups and metal on one side and plain rectangles on the other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from studio.core.cutting.job import Job, Parting
from studio.core.cutting.parting import MOST_CUTS

from .draft import Draft
from .forms import Former
from .groups import Group, frame_key, may_be_turned, quarter_exact, turned, written
from .guillotine import HAIR_MM, Bin, Item, Laid, Packer, Packing, Rules, Size
from .metal import Core
from .parts import Parts, one_polygon

Key = tuple[float, float]  # what of a frame matters to a group


@dataclass(frozen=True)
class Chosen:
    """Where a size comes from: the form, and by how many quarters it is turned."""

    group: int
    key: Key
    form: int
    quarter: int


class Floor:
    """The groups of a job, the rectangles of metal for them, and the forms found so far."""

    def __init__(
        self, job: Job, parting: Parting, groups: Sequence[Group], cores: Sequence[Core]
    ) -> None:
        self.job, self.parting = job, parting
        self.groups, self.cores = groups, cores
        self.formers: dict[tuple[int, Key], Former] = {}
        self.keys: dict[tuple[int, int], Key] = {}  # by group and core
        self.turns: dict[tuple[int, int], bool] = {}
        for g, group in enumerate(groups):
            for c, core in enumerate(cores):
                stock = job.metal[core.stock]
                self.keys[g, c] = frame_key(group, stock, core.turn_deg)
                self.turns[g, c] = may_be_turned(group, stock)
        self.largest = sorted(range(len(cores)), key=lambda c: (-cores[c].wide * cores[c].high, c))
        self.widest = max((max(core.wide, core.high) for core in cores), default=0.0)

    def former(self, g: int, c: int) -> Former:
        """Who finds forms for a group on a core, and on all that are alike to it."""
        key = (g, self.keys[g, c])
        if key not in self.formers:
            core = self.cores[c]
            stock = self.job.metal[core.stock]
            self.formers[key] = Former(self.job, self.parting, self.groups[g], stock, core.turn_deg)
        return self.formers[key]

    def heights(self, g: int, most: int) -> list[tuple[int, float, int]]:
        """Which forms to seek for a group: core (the first of its kind), height, its rank."""
        found: list[tuple[int, float, int]] = []
        seen: set[Key] = set()
        for c in self.largest:
            key = self.keys[g, c]
            if key in seen:
                continue
            seen.add(key)
            alike = [k for k in self.largest if self.keys[g, k] == key][:3]
            spans = [span for k in alike for span in (self.cores[k].high, self.cores[k].wide)]
            heights = self.former(g, c).heights(spans, most)
            found.extend((c, high, rank) for rank, high in enumerate(heights))
        return found

    def has_room_for(self, g: int) -> bool:
        """Whether some form of a group lies on some core, were it the only one."""
        for c, core in enumerate(self.cores):
            for form in self.former(g, c).forms:
                quarters = ((form.wide, form.high), (form.high, form.wide))
                for wide, high in quarters[: 2 if self.turns[g, c] else 1]:
                    if wide <= core.wide + HAIR_MM and high <= core.high + HAIR_MM:
                        return True
        return False

    def packer(self) -> tuple[Packer | None, list[Chosen]]:
        """All forms as sizes of one item for each group, and where each size comes from."""
        chosen: list[Chosen] = []
        if not self.cores or not self.groups:
            return None, chosen
        kinds: dict[tuple[int, tuple[float, float]], int] = {}
        items = []
        for g in range(len(self.groups)):
            sizes = []
            for c in range(len(self.cores)):
                key = self.keys[g, c]
                if (g, key) in kinds:
                    continue
                kind = kinds[g, key] = len(kinds)
                former = self.formers.get((g, key))
                for k, form in enumerate(former.forms if former else ()):
                    for quarter in (0, 1) if self.turns[g, c] else (0,):
                        wide, high = (form.high, form.wide) if quarter else (form.wide, form.high)
                        sizes.append(Size(wide, high, kind, len(chosen), form.back))
                        chosen.append(Chosen(g, key, k, quarter))
            only = self.groups[g].only_on
            bins = None
            if only is not None:
                bins = frozenset(c for c, core in enumerate(self.cores) if core.stock == only)
            items.append(Item(tuple(sizes), self.groups[g].area, bins))
        return self._packer_of(items, kinds), chosen

    def _packer_of(
        self, items: Sequence[Item], kinds: dict[tuple[int, tuple[float, float]], int]
    ) -> Packer:
        job, parting = self.job, self.parting
        bins = []
        for c, core in enumerate(self.cores):
            metal = job.metal[core.stock]
            own = {kinds[g, self.keys[g, c]] for g in range(len(self.groups))}
            bins.append(
                Bin(
                    core.wide,
                    core.high,
                    max(metal.price_per_mm2, 1e-9),
                    frozenset(own),
                    core.rim,
                    max(0.0, core.part.region.area - core.wide * core.high),
                )
            )
        price = max((b.price for b in bins), default=1.0)
        saw = parting.way == "saw"
        throat = parting.throat_mm if saw else None
        longest = parting.cut_longest_mm if not saw else None
        rules = Rules(
            job.kerf_mm if saw else 0.0,
            parting.strip_least_mm,
            math.inf if longest is None else longest,
            math.inf if throat is None else throat,
            job.offcut_min_width_mm,
            job.offcut_min_area_mm2,
            job.saw_cost_per_mm / price if saw else 0.0,
        )
        return Packer(bins, items, rules)

    def cut_out(self, draft: Draft, packing: Packing, chosen: Sequence[Chosen]) -> set[int]:
        """The cuts of a packing made on the metal itself; groups that lie on their blanks."""
        done: set[int] = set()
        for c, core in enumerate(self.cores):
            laid = [one for one in packing.laid if one.rect.bin == c]
            if not laid:
                continue
            trial = draft.of(core.stock).copy()
            numbers = self._cut(trial, c, packing)
            if numbers is None or len(draft.cuts()) + len(trial.cuts) > MOST_CUTS:
                continue
            leaves = [trial.leaves[numbers[one.rect.part]] for one in laid]
            if any(one_polygon(leaf.region) is None for leaf in leaves):
                continue
            draft.parts[core.stock] = trial
            for one, leaf in zip(laid, leaves, strict=True):
                self._lay(draft, c, one, leaf.number, chosen[one.size.form])
                done.add(chosen[one.size.form].group)
        return done

    def _cut(self, parts: Parts, c: int, packing: Packing) -> dict[int, int] | None:
        """Make the cuts through one core; its parts' numbers by those of the packing. None where
        the metal does not allow one of them."""
        core = self.cores[c]
        numbers = {0: core.part.number}
        cos, sin = quarter_exact(core.turn_deg)
        for slit in packing.slits:
            if slit.bin != c:
                continue
            x = core.box[0] + (slit.at if slit.upright else 0.0)
            y = core.box[1] + (0.0 if slit.upright else slit.at)
            through = (x * cos - y * sin, x * sin + y * cos)
            along = (-sin, cos) if slit.upright else (cos, sin)
            made = parts.cut(numbers[slit.part], through, along)
            if made is None:
                return None
            # an upright cut has what is on its left first, a level one what is above it
            own, rest = made if slit.upright else (made[1], made[0])
            numbers[slit.own], numbers[slit.rest] = own.number, rest.number
        return numbers

    def _lay(self, draft: Draft, c: int, one: Laid, number: int, pick: Chosen) -> None:
        """A group as it lies in its form, on the part that is its blank."""
        core, metal = self.cores[c], self.job.metal[self.cores[c].stock]
        form = self.formers[pick.group, pick.key].forms[pick.form]
        x, y = core.box[0] + one.corner[0], core.box[1] + one.corner[1]
        placed = []
        for p in form.placements:
            lain = turned(p, 90.0, form.high + x, y) if pick.quarter else turned(p, 0.0, x, y)
            placed.append(turned(lain, core.turn_deg, 0.0, 0.0))
        draft.laid[core.stock, number] = [
            written(p, self.job.wanted_by_id[p.piece], metal)
            for p in self.groups[pick.group].named(placed, metal.id)
        ]
