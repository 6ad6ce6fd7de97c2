"""A sheet of 200 by 100 mm and squares of 20 mm for two students, to be parted."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting import Cut, Hands, Job, Parting, Stock, Wanted
from studio.core.cutting.job import CutWay

SHEET = box(0, 0, 200, 100)
KERF = 0.3


def parted_job(
    way: CutWay = "shear",
    *pieces: Wanted,
    metal: Polygon | MultiPolygon = SHEET,
    margin: float = 1.0,
    least: float = 15.0,
    longest: float | None = None,
    throat: float | None = None,
) -> Job:
    """Two squares for A and two for B, unless others are named; clean edges, price 0.001 a mm²."""
    square = box(0, 0, 20, 20)
    return Job(
        (Stock("S1", metal, 0.001),),
        pieces or (Wanted("a", square, 2, group="A"), Wanted("b", square, 2, group="B")),
        kerf_mm=KERF,
        edge_margin_mm=2.0,
        hands=Hands(gap_mm=1.0, shared_mm=0.5),
        worth="two",
        parting=Parting(way, margin, least, longest, throat),
    )


def with_metal(job: Job, *metal: Stock) -> Job:
    return replace(job, metal=metal)


def upright(x: float, part: int = 0, metal: str = "S1", high: float = 100.0) -> Cut:
    """A cut from the lower edge up; what is left of x is on its left."""
    return Cut(metal, part, (x, 0.0), (x, high))


def across(y: float, x0: float, x1: float, part: int = 0, metal: str = "S1") -> Cut:
    """A cut to the right; what is above y is on its left."""
    return Cut(metal, part, (x0, y), (x1, y))
