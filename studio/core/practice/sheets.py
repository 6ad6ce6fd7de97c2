"""The practice sheets: small jobs of laying out, each with a known good answer.

A sheet's job is of version 1.2 (`studio.core.cutting`), its lengths are millimetres. Texts are
English here and translated where they are shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

from shapely.geometry import LineString, MultiLineString, Polygon, box

from studio.core.building.shapes import disc, drop, rectangle, ring
from studio.core.cutting import Hands, Job, Placement, Stock, Wanted

from .dissections import FLAGS, NINE, SEVEN, Dissection
from .long_runs import LONG_RUNS
from .shapes import boat, buoy, fish, leaf

KERF_MM: Final = 0.3
GAP_MM: Final = 1.0
SHARED_MM: Final = KERF_MM
"""On practice sheets a shared line is one saw cut wide, so that a dissection is one with cuts."""
CLOSE_MM: Final = 0.4
"""The gap on sheets of a dissection: what a hand leaves beside a line is then no fault."""
ROOM_MM: Final = 2 * KERF_MM
"""The metal of a dissection is so much higher than its pieces need. More than the gap, so that a row
may lie on either edge or between."""
STRAIGHT_MM: Final = 8.0
METAL: Final = "M"
PRICE_PER_MM2: Final = 0.001
"""Any price will do: layouts of one sheet are only compared with each other."""
SAW_PER_MM: Final = 0.0002
"""A metre of sawing weighs as much as 2 cm² of metal: of two layouts that use up the same, the one
with sides on the edge is better."""

Source = Literal["dissection", "long run"]


@dataclass(frozen=True)
class Sheet:
    """One practice sheet: what to lay out, and the best that is known.

    `number` counts from 1, easiest first. `source` says how the known answer is known to be
    good: a dissection, which next to no metal can be spared of, or the engine's long run, which may
    be beaten.
    `told` says it in a sentence.
    """

    code: str
    number: int
    title: str
    sentence: str
    job: Job
    answer: tuple[Placement, ...]
    source: Source
    told: str

    @property
    def pieces(self) -> int:
        return self.job.copies

    @property
    def may_mirror(self) -> bool:
        return any(wanted.may_mirror for wanted in self.job.pieces)

    @cached_property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the stock piece."""
        x0, y0, x1, y1 = self.job.metal[0].outline.bounds
        return x1 - x0, y1 - y0


def _job(
    metal: Stock,
    wanted: Sequence[Wanted],
    gap_mm: float = GAP_MM,
    straight_mm: float = STRAIGHT_MM,
) -> Job:
    return Job(
        (metal,),
        tuple(wanted),
        kerf_mm=KERF_MM,
        saw_cost_per_mm=SAW_PER_MM,
        edge_margin_mm=2.0,
        hands=Hands(gap_mm, SHARED_MM, straight_mm),
        worth="two",
    )


def _wanted(name: str, outline: Polygon, count: int = 1, *, may_mirror: bool = True) -> Wanted:
    return Wanted(name, outline, count, may_mirror=may_mirror, group=name)


def _metal(outline: Polygon, rough: MultiLineString | None = None) -> Stock:
    return Stock(METAL, outline, PRICE_PER_MM2, rough_edges=rough)


def _parted(
    of: Dissection, length_mm: float, straight_mm: float
) -> tuple[Job, tuple[Placement, ...]]:
    """The job of a dissection on metal of this length, and the dissection as its answer."""
    _, height = of.metal_mm(KERF_MM, ROOM_MM)
    outlines: dict[str, Polygon] = {}
    counts: dict[str, int] = {}
    laid = []
    for one in of.sawn(KERF_MM, ROOM_MM):
        outlines.setdefault(one.piece, one.outline)
        copy = counts.get(one.piece, 0)
        counts[one.piece] = copy + 1
        laid.append(
            Placement(one.piece, copy, METAL, False, one.turn_deg % 360.0, one.x_mm, one.y_mm)
        )
    wanted = [_wanted(piece, outline, counts[piece]) for piece, outline in outlines.items()]
    metal = _metal(box(0, 0, length_mm, height))
    return _job(metal, wanted, CLOSE_MM, straight_mm), tuple(laid)


def _from_dissection(
    number: int,
    code: str,
    of: Dissection,
    length_mm: float,
    title: str,
    sentence: str,
    told: str,
    straight_mm: float = STRAIGHT_MM,
) -> Sheet:
    job, answer = _parted(of, length_mm, straight_mm)
    return Sheet(code, number, title, sentence, job, answer, "dissection", told)


def _from_long_run(number: int, code: str, title: str, sentence: str, job: Job) -> Sheet:
    told = "The search of this app found it in a long run. Nobody knows whether it is the best."
    answer = tuple(
        Placement(piece, copy, METAL, mirror, turn, x, y)
        for piece, copy, mirror, turn, x, y in LONG_RUNS[code].laid
    )
    return Sheet(code, number, title, sentence, job, answer, "long run", told)


def _shoal() -> Job:
    return _job(
        _metal(box(0, 0, 120, 64)),
        [_wanted("fish", fish(38, 18), 3), _wanted("drop", drop(14, 24), 2)],
    )


def _leaves() -> Job:
    corners = [(0, 0), (130, 0), (130, 52), (104, 78), (0, 78)]
    rough = MultiLineString([LineString([(130, 52), (104, 78)])])
    return _job(
        _metal(Polygon(corners), rough),
        [
            _wanted("ring", ring(44, 7)),
            _wanted("leaf", leaf(40, 15), 4),
            _wanted("disc", disc(18)),
            _wanted("drop", drop(13, 22), 2),
        ],
    )


def _harbour() -> Job:
    return _job(
        _metal(box(0, 0, 160, 105)),
        [
            _wanted("boat", boat(44), 2),
            _wanted("fish", fish(40, 17), 3),
            _wanted("ring", ring(40, 6)),
            _wanted("leaf", leaf(22, 10), 2),
            _wanted("buoy", buoy(16, 30), 2),
            _wanted("tag", rectangle(46, 14, 2), 2),
        ],
    )


SHEETS: Final[tuple[Sheet, ...]] = (
    _from_dissection(
        1,
        "flags",
        FLAGS,
        120.0,
        "Five signal flags",
        "All sides are straight. Lay them on the metal’s edge and on each other.",
        "The flags come from one rectangle. The metal is two saw cuts higher, so that hands can lay "
        "them. No layout can be shorter by more than 1.5 %.",
    ),
    _from_long_run(
        2,
        "shoal",
        "A small shoal",
        "Curves cannot share a cut. Lay them as close as the gap allows, head to tail.",
        _shoal(),
    ),
    _from_dissection(
        3,
        "seven",
        SEVEN,
        130.0,
        "Seven from a square",
        "Seven pieces fill a square. Turn them until one big strip stays whole.",
        "It is the old square of seven pieces. The metal is two saw cuts higher, so that hands can "
        "lay them. No layout can be shorter by more than 0.8 %.",
    ),
    _from_long_run(
        4,
        "leaves",
        "Leaves and a ring",
        "One edge is rough: stay off it. What is small enough to lie in the ring?",
        _leaves(),
    ),
    _from_dissection(
        5,
        "nine",
        NINE,
        165.0,
        "Nine square tiles",
        "No two squares are alike. They fill a rectangle: begin with the large ones.",
        "Z. Moroń found these nine squares in 1925. The metal is two saw cuts higher, so that hands "
        "can lay them. No layout can be shorter by more than 0.5 %.",
        straight_mm=3.0,
    ),
    _from_long_run(
        6,
        "harbour",
        "The whole harbour",
        "Twelve pieces and all three rules. Keep one strip whole.",
        _harbour(),
    ),
)
"""Easiest first."""


def name_of(piece: str) -> str:
    """What a piece of a sheet is called: its id, less the number by which squares differ."""
    return piece.rstrip("0123456789 ")


BY_CODE: Final = {sheet.code: sheet for sheet in SHEETS}


def translated_texts() -> set[str]:
    """What `classroom.catalogs` must find in every language."""
    texts = {text for sheet in SHEETS for text in (sheet.title, sheet.sentence, sheet.told)}
    return texts | {name_of(wanted.id) for sheet in SHEETS for wanted in sheet.job.pieces}
