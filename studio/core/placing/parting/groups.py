"""The groups of a job, each with the pieces that want one blank, and what lies in a turned frame.

A *frame* is a stock piece turned so that its long edges run along x and y: cuts and blanks are
upright there, whatever its turn on the rack is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from studio.core.cutting.job import Job, Placement, Stock, Wanted, allowed_turns, turns_apart

TURN_TOLERANCE_DEG = 1e-6
Copy = tuple[str, int]


@dataclass(frozen=True)
class Group:
    """Pieces that want one blank: kinds of the job and which copies of each.

    `only_on` is the stock piece (its number in the job) that the blank must come from, where a
    group needs several; None for all groups that some stock piece can hold.
    """

    name: str | None
    kinds: tuple[Wanted, ...]
    copies: tuple[tuple[int, ...], ...]  # by kind
    only_on: int | None = None

    @property
    def area(self) -> float:
        return sum(w.outline.area * len(c) for w, c in zip(self.kinds, self.copies, strict=True))

    @property
    def count(self) -> int:
        return sum(len(c) for c in self.copies)

    @property
    def all_copies(self) -> list[Copy]:
        return [
            (w.id, copy) for w, own in zip(self.kinds, self.copies, strict=True) for copy in own
        ]

    def only(self, wanted: Iterable[Copy]) -> Group:
        """The same group with some of its pieces only."""
        keep = set(wanted)
        kinds, copies = [], []
        for w, own in zip(self.kinds, self.copies, strict=True):
            some = tuple(copy for copy in own if (w.id, copy) in keep)
            if some:
                kinds.append(w)
                copies.append(some)
        return Group(self.name, tuple(kinds), tuple(copies), self.only_on)

    def may_lie_on(self, stock: int) -> bool:
        return self.only_on is None or self.only_on == stock

    def orders(self, turn_deg: float = 0.0) -> tuple[Wanted, ...]:
        """What a job of this group alone wants, seen in a frame turned so on its stock piece."""
        found = []
        for w, own in zip(self.kinds, self.copies, strict=True):
            turns = w.turns_deg
            if turns is not None and turn_deg:
                turns = tuple((turn - turn_deg) % 360.0 for turn in turns)
            found.append(replace(w, count=len(own), turns_deg=turns, group=None))
        return tuple(found)

    def named(self, placements: Sequence[Placement], metal: str) -> list[Placement]:
        """Placements of a job of this group alone as those of the whole job."""
        copies = {w.id: own for w, own in zip(self.kinds, self.copies, strict=True)}
        return [replace(p, copy=copies[p.piece][p.copy], metal=metal) for p in placements]


def groups_of(job: Job, without: Iterable[Copy] = ()) -> list[Group]:
    """All groups in the order in which their first pieces are wanted; those without pieces left
    are none."""
    gone = set(without)
    kinds: dict[str | None, list[Wanted]] = {}
    for wanted in job.pieces:
        kinds.setdefault(wanted.group, []).append(wanted)
    found = []
    for name, own in kinds.items():
        copies = [tuple(copy for copy in range(w.count) if (w.id, copy) not in gone) for w in own]
        some = [(w, c) for w, c in zip(own, copies, strict=True) if c]
        if some:
            found.append(Group(name, tuple(w for w, _ in some), tuple(c for _, c in some)))
    return found


def frame_key(group: Group, stock: Stock, turn_deg: float) -> tuple[float, float]:
    """What of a frame matters to a group: its turn where turns are listed, its grain where some
    piece has one; 0 where it does not matter."""
    listed = any(w.turns_deg is not None for w in group.kinds)
    grained = stock.grain_deg is not None and any(w.grain_deg is not None for w in group.kinds)
    turn = round(turn_deg % 360.0, 6) if listed else 0.0
    if not grained or stock.grain_deg is None:
        return turn, 0.0
    return turn, round((stock.grain_deg - turn_deg) % 180.0, 6) + 1.0


def may_be_turned(group: Group, stock: Stock) -> bool:
    """Whether a layout of a group may be turned by a quarter as a whole."""
    for w in group.kinds:
        for mirror in (False, True) if w.may_mirror else (False,):
            turns = allowed_turns(w, stock, mirror=mirror)
            if turns is not None and any(
                all(turns_apart(turn + 90.0, other) > TURN_TOLERANCE_DEG for other in turns)
                for turn in turns
            ):
                return False
    return True


def turned(p: Placement, turn_deg: float, x: float, y: float) -> Placement:
    """A placement turned about the origin, then shifted."""
    c, s = quarter_exact(turn_deg)
    return replace(
        p,
        turn_deg=(p.turn_deg + turn_deg) % 360.0,
        x_mm=p.x_mm * c - p.y_mm * s + x,
        y_mm=p.x_mm * s + p.y_mm * c + y,
    )


def quarter_exact(turn_deg: float) -> tuple[float, float]:
    """Cosine and sine, exact at quarters."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    if turn_deg / 90.0 == round(turn_deg / 90.0):
        return float(round(c)), float(round(s))
    return c, s


def written(p: Placement, wanted: Wanted, stock: Stock) -> Placement:
    """A placement as plans write it: to a nanometre, its turn one of those allowed."""
    turn = round(p.turn_deg % 360.0, 6) % 360.0
    only = allowed_turns(wanted, stock, mirror=p.mirror)
    if only:
        near = min(only, key=lambda allowed: turns_apart(allowed, turn))
        if turns_apart(near, turn) <= 10.0 * TURN_TOLERANCE_DEG:
            turn = near
    return replace(p, turn_deg=turn, x_mm=round(p.x_mm, 6), y_mm=round(p.y_mm, 6))
