"""Two layouts of the same pieces on the same metal: what tells them apart, and which is better.

Pure: figures in, facts out; who words them says what a layout is called. Lengths in mm, areas in
mm², money as Decimal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from studio.core.cutting.job import Cut, Job, Measures, Placement

from .parting import sawn_apart_mm

Whose = Literal["own", "server", ""]
"""Which of the two is better; "" where the two are as good as equal."""

LEAST_MM: Final = 5.0
LEAST_MM2: Final = 25.0
LEAST_MONEY: Final = Decimal("0.05")
"""Less is nothing to speak of."""
AS_GOOD: Final = 1e-3
"""Costs that differ by a smaller share than this are the same."""


@dataclass(frozen=True, slots=True)
class Laid:
    """One of the two: its judged measures, how much of its sawing frees two pieces at once, and how
    far it has come."""

    measures: Measures
    placed: int
    wanted: int
    for_two_mm: float = 0.0
    faults: int = 0
    price: Decimal | None = None

    @property
    def is_whole(self) -> bool:
        """Every piece lies, and the judge found no fault."""
        return self.placed >= self.wanted and not self.faults

    @property
    def strip_mm2(self) -> float:
        longer, shorter = self.measures.largest_rectangle_mm
        return longer * shorter


@dataclass(frozen=True, slots=True)
class Fact:
    """One difference. `code` is one of placed, faults, strip, metal, sawing, free, shared, price.

    `by` is how much it is, in the code's own unit; `strip` has the two rectangles instead (longer
    side first, 0 by 0 where nothing stays).
    """

    code: str
    better: Whose
    by: float | Decimal = 0.0
    better_mm: tuple[float, float] = (0.0, 0.0)
    other_mm: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Beside:
    """What tells two layouts apart, the most telling first.

    `better` weighs metal, offcuts, scrap and sawing together; nobody is where one is not whole and
    the other neither. `beaten` says that the own one is better than the server's.
    """

    facts: tuple[Fact, ...]
    better: Whose

    @property
    def beaten(self) -> bool:
        return self.better == "own"


def for_two_mm(
    job: Job, placements: Iterable[Placement], measures: Measures, cuts: Sequence[Cut] = ()
) -> float:
    """How much of the sawing frees two pieces at once: shared lines, and cuts down the middle.

    What is measured of these placements, all of them measurable, says it: of all rims whatever
    is neither sawn for itself nor lies on the metal's edge.
    """
    rims = sum(job.wanted_by_id[placed.piece].outline.length for placed in placements)
    # Where a saw parts the metal, its cuts are among what is sawn, and free no piece.
    sawn = measures.saw_line_mm - sawn_apart_mm(job, cuts)
    return max(0.0, rims - sawn - measures.free_edge_mm)


def beside(own: Laid, server: Laid) -> Beside:
    """What tells an own layout from the server's, and which is better.

    Figures are compared only where both have laid as many pieces: with fewer everything is
    less. A layout with a fault is never the better one.

    Examples
    --------
    >>> mine = Measures(largest_rectangle_mm=(152.0, 41.0), saw_line_mm=200.0, cost=2.0)
    >>> its = Measures(largest_rectangle_mm=(152.0, 62.0), saw_line_mm=260.0, cost=1.5)
    >>> found = beside(Laid(mine, 3, 3), Laid(its, 3, 3))
    >>> found.better, [(fact.code, fact.better) for fact in found.facts]
    ('server', [('strip', 'server'), ('sawing', 'own')])
    """
    facts = list(_progress(own, server))
    if own.placed == server.placed:
        facts += _figures(own, server)
    return Beside(tuple(facts), _better(own, server))


def _better(own: Laid, server: Laid) -> Whose:
    if own.is_whole != server.is_whole:
        return "own" if own.is_whole else "server"
    if not own.is_whole:
        return ""
    one, other = own.measures.cost, server.measures.cost
    if abs(one - other) <= AS_GOOD * max(abs(one), abs(other)):
        return ""
    return "own" if one < other else "server"


def _progress(own: Laid, server: Laid) -> Iterator[Fact]:
    if own.placed != server.placed:
        more: Whose = "own" if own.placed > server.placed else "server"
        yield Fact("placed", more, abs(own.placed - server.placed))
    if own.faults:
        yield Fact("faults", "server", own.faults)


def _figures(own: Laid, server: Laid) -> Iterator[Fact]:
    one, other = own.measures, server.measures
    sides = {"own": one.largest_rectangle_mm, "server": other.largest_rectangle_mm}
    if abs(own.strip_mm2 - server.strip_mm2) >= LEAST_MM2:
        better: Whose = "own" if own.strip_mm2 > server.strip_mm2 else "server"
        worse = "server" if better == "own" else "own"
        yield Fact(
            "strip",
            better,
            abs(own.strip_mm2 - server.strip_mm2),
            _longer_first(sides[better]),
            _longer_first(sides[worse]),
        )
    for code, by, least, less_is_better in (
        ("metal", one.consumed_mm2 - other.consumed_mm2, LEAST_MM2, True),
        ("sawing", one.saw_line_mm - other.saw_line_mm, LEAST_MM, True),
        ("free", one.free_edge_mm - other.free_edge_mm, LEAST_MM, False),
        ("shared", own.for_two_mm - server.for_two_mm, LEAST_MM, False),
    ):
        if abs(by) >= least:
            yield Fact(code, "own" if (by < 0) == less_is_better else "server", abs(by))
    if own.price is not None and server.price is not None:
        money = own.price - server.price
        if abs(money) >= LEAST_MONEY:
            yield Fact("price", "own" if money < 0 else "server", abs(money))


def _longer_first(sides: tuple[float, float]) -> tuple[float, float]:
    return max(sides), min(sides)
