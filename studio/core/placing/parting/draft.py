"""A parted plan while it is made: each stock piece with its cuts, and who lies on which part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from shapely.geometry import Polygon

from studio.core.cutting.job import Blank, Cut, Job, Measures, Offcut, Parting, Placement
from studio.core.verifying import faults, measure

from .groups import Copy
from .parts import Parts, one_polygon


@dataclass
class Draft:
    """Placements and the cuts between them; nothing is judged yet.

    `on` says which part of a stock piece a group has, by stock number.
    """

    job: Job
    parting: Parting
    parts: dict[int, Parts] = field(default_factory=dict)
    laid: dict[tuple[int, int], list[Placement]] = field(default_factory=dict)

    def copy(self) -> Draft:
        return Draft(
            self.job,
            self.parting,
            {k: p.copy() for k, p in self.parts.items()},
            {k: list(p) for k, p in self.laid.items()},
        )

    def of(self, stock: int) -> Parts:
        """The parts of a stock piece, as far as it is cut."""
        if stock not in self.parts:
            self.parts[stock] = Parts(self.job, self.parting, self.job.metal[stock])
        return self.parts[stock]

    def placements(self) -> tuple[Placement, ...]:
        return tuple(p for laid in self.laid.values() for p in laid)

    def cuts(self) -> tuple[Cut, ...]:
        """The cuts of all stock pieces on which something lies."""
        touched = {stock for (stock, _), laid in self.laid.items() if laid}
        return tuple(
            cut
            for stock in sorted(touched)
            if stock in self.parts
            for cut in self.parts[stock].cuts
        )

    def free(self) -> list[tuple[int, int]]:
        """Parts without a group, of stock pieces that are in use."""
        return [
            (stock, number)
            for stock, parts in sorted(self.parts.items())
            for number in sorted(parts.leaves)
            if not self.laid.get((stock, number))
        ]

    def blanks(self) -> tuple[Blank, ...]:
        """What the cuts make for the groups."""
        found = []
        for (stock, number), laid in sorted(self.laid.items()):
            outline = None if not laid else one_polygon(self.parts[stock].leaves[number].region)
            if outline is None:
                continue
            group = self.job.wanted_by_id[laid[0].piece].group
            found.append(Blank(self.job.metal[stock].id, number, group, outline))
        return tuple(found)


@dataclass(frozen=True)
class Judged:
    """A draft that the judge finds no fault with, and what it comes to."""

    draft: Draft
    left: tuple[Copy, ...]
    measures: Measures
    offcuts: tuple[Offcut, ...]

    @property
    def key(self) -> tuple[int, float]:
        """The smaller, the better."""
        return len(self.left), round(self.measures.cost, 9)


def judged(draft: Draft, left: Sequence[Copy], *, known: bool = False) -> Judged | None:
    """The draft with its figures; None where the judge finds a fault. With `known` it has said
    already that there is none."""
    placements, cuts = draft.placements(), draft.cuts()
    if not known and faults(draft.job, placements, cuts=cuts):
        return None
    measures, offcuts = measure(draft.job, placements, cuts=cuts)
    return Judged(draft, tuple(left), measures, offcuts)


def without_faults(draft: Draft, left: Iterable[Copy]) -> tuple[Draft, list[Copy]]:
    """A draft without the pieces that the judge faults; where it faults cuts, without all that
    lies on that stock piece."""
    draft, dropped = draft.copy(), list(left)
    standing = {(p.piece, p.copy) for p in draft.job.fixed}
    by_id = {metal.id: k for k, metal in enumerate(draft.job.metal)}
    while wrong := faults(draft.job, draft.placements(), cuts=draft.cuts()):
        bad = {(fault.piece, fault.copy) for fault in wrong} - standing
        lying = {(p.piece, p.copy): by_id[p.metal] for p in draft.placements()}
        named = bad & set(lying)
        if not named:  # a cut is at fault: nothing is parted where one is
            stocks = {by_id[cut.metal] for cut in draft.cuts()} or set(lying.values())
            named = {copy for copy, stock in lying.items() if stock in stocks} - standing
        if not named:
            break
        for key, laid in draft.laid.items():
            draft.laid[key] = [p for p in laid if (p.piece, p.copy) not in named]
        dropped.extend(sorted(named))
    return draft, dropped


def outlines_of(job: Job, placements: Iterable[Placement]) -> list[Polygon]:
    return [p.lay(job.wanted_by_id[p.piece].outline) for p in placements]
