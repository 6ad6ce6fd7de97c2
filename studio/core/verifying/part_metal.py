"""A part of a stock piece as metal of its own: what the rules see where metal is parted."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry import MultiLineString

from studio.core.cutting.job import Stock


@dataclass(frozen=True)
class PartMetal(Stock):
    """What cuts make of a stock piece, in its place on it.

    `id` says which metal was parted by which cuts, so that what is kept under it follows from it;
    `rough_edges` are the stock piece's own that lie on this part, `cut_edges` those that cuts have
    made: never free, and with a margin of their own.
    """

    metal: str = ""
    number: int = 0
    cut_edges: MultiLineString = field(default_factory=MultiLineString)


def code_of(metal: Stock) -> str:
    """The stock piece that this metal is, or is a part of."""
    return metal.metal if isinstance(metal, PartMetal) else metal.id


def number_of(metal: Stock) -> int:
    """The number of the part; 0 is the stock piece."""
    return metal.number if isinstance(metal, PartMetal) else 0
