"""Jobs like those of a class, made by rule: for benchmarks and tests, never for users."""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Point, Polygon, box

from studio.core.cutting.job import CutWay, Hands, Job, Parting, Stock, Wanted
from studio.core.cutting.parting import MARGIN_MM, STRIP_LEAST_MM

PRICE = 0.0003
SHEET = box(0, 0, 305, 150)
UP_AND_DOWN = (0.0, 180.0)


def disc(radius: float) -> Polygon:
    return Point(0, 0).buffer(radius, quad_segs=12)


def ring(outer: float, inner: float) -> Polygon:
    return Polygon(disc(outer).exterior, [disc(inner).exterior])


def frame(width: float, height: float, web: float) -> Polygon:
    window = box(web, web, width - web, height - web)
    return Polygon(box(0, 0, width, height).exterior, [window.exterior])


def star(points: int, outer: float, inner: float) -> Polygon:
    return _polar(2 * points, lambda k: inner if k % 2 else outer)


def leaf(length: float, width: float) -> Polygon:
    upper = [(length * t / 16, width * math.sin(math.pi * t / 16)) for t in range(17)]
    lower = [(length * t / 16, -0.6 * width * math.sin(math.pi * t / 16)) for t in range(15, 0, -1)]
    return Polygon(upper + lower)


def fish(size: float) -> Polygon:
    body = [
        (size * math.cos(a), 0.45 * size * math.sin(a))
        for a in (math.radians(d) for d in range(-150, 151, 12))
    ]
    return Polygon([*body, (-1.5 * size, 0.5 * size), (-1.3 * size, 0), (-1.5 * size, -0.5 * size)])


def wave(length: float, height: float) -> Polygon:
    top = [(length * t / 24, height + 5 * math.sin(t * math.pi / 4)) for t in range(25)]
    return Polygon([(length, 0), *reversed(top), (0, 0)])


def anchor(size: float) -> Polygon:
    bar = box(-0.08 * size, -size / 2, 0.08 * size, size / 2)
    cross = box(-0.3 * size, 0.25 * size, 0.3 * size, 0.38 * size)
    bow = ring(0.5 * size, 0.36 * size).intersection(box(-size, -size, size, -0.05 * size))
    whole = bar.union(cross).union(bow)
    assert isinstance(whole, Polygon)
    return whole


def heart(size: float) -> Polygon:
    points = []
    for k in range(40):
        t = 2 * math.pi * k / 40
        x = 16 * math.sin(t) ** 3
        y = 13 * math.cos(t) - 5 * math.cos(2 * t) - 2 * math.cos(3 * t) - math.cos(4 * t)
        points.append((x * size / 32, y * size / 32))
    return Polygon(points)


def triangle(width: float, height: float) -> Polygon:
    return Polygon([(0, 0), (width, 0), (0, height)])


def class_jobs() -> dict[str, Job]:
    """Eight jobs of 20 to 60 pieces: sheets, offcuts with earlier cut-outs, windows, tags."""
    sheet, second = Stock("S1", SHEET, PRICE), Stock("S2", SHEET, PRICE)
    ell = Polygon(
        [(0, 0), (120, 0), (120, 80), (60, 80), (60, 40), (0, 40)],
        [[(80, 20), (100, 20), (100, 35), (80, 35)]],
    )
    bitten = Polygon(
        [(0, 0), (140, 0), (140, 90), (0, 90)],
        [_at(disc(14), 40, 45), _at(star(5, 18, 8), 100, 50)],
    )
    return {
        "fish and leaves": Job(
            (sheet, second), (Wanted("fish", fish(16), 14), Wanted("leaf", leaf(38, 11), 14))
        ),
        "mixed pendants": Job(
            (sheet, Stock("O1", ell, PRICE)),
            (
                Wanted("star", star(5, 15, 7), 8),
                Wanted("heart", heart(26), 8),
                Wanted("leaf", leaf(34, 9), 8),
                Wanted("anchor", anchor(32), 6),
                Wanted("drop", leaf(26, 9), 10),
            ),
        ),
        "rings and frames": Job(
            (sheet, second),
            (
                Wanted("ring", ring(20, 14), 8),
                Wanted("frame", frame(48, 36, 6), 4),
                Wanted("dot", disc(9), 14),
                Wanted("heart", heart(20), 8),
            ),
        ),
        "straight tags": Job(
            (sheet,),
            (
                Wanted("tag", box(0, 0, 38, 16), 18),
                Wanted("plate", box(0, 0, 25, 25), 8),
                Wanted("bar", box(0, 0, 60, 8), 8),
            ),
        ),
        "triangles": Job(
            (sheet,), (Wanted("wedge", triangle(34, 24), 22), Wanted("kite", triangle(20, 20), 14))
        ),
        "up and down only": Job(
            (sheet, second),
            (
                Wanted("wave", wave(52, 14), 10, UP_AND_DOWN),
                Wanted("fish", fish(15), 12, UP_AND_DOWN),
                Wanted("anchor", anchor(34), 8, UP_AND_DOWN),
            ),
        ),
        "offcuts first": Job(
            (sheet, Stock("O1", ell, PRICE), Stock("O2", bitten, PRICE)),
            (
                Wanted("heart", heart(24), 10),
                Wanted("star", star(6, 13, 8), 8),
                Wanted("tag", box(0, 0, 30, 12), 8),
                Wanted("dot", disc(7), 8),
            ),
        ),
        "sixty small": Job(
            (sheet,),
            (
                Wanted("drop", leaf(22, 7), 20),
                Wanted("dot", disc(6), 16),
                Wanted("star", star(4, 11, 4), 14),
                Wanted("tag", box(0, 0, 20, 9), 10),
            ),
        ),
    }


def shared_job(groups: int, way: CutWay | None = None) -> Job:
    """A class of so many students, each with three of the class jobs' pieces, on sheets; parted
    one way or the other, or undivided. What is drawn for each follows from the numbers alone."""
    pool = [wanted for job in class_jobs().values() for wanted in job.pieces]
    pieces = tuple(
        replace(pool[(7 * g + 11 * k + g * k) % len(pool)], id=f"{g}-{k}", count=1, group=f"s{g}")
        for g in range(groups)
        for k in range(3)
    )
    sheets = tuple(Stock(f"S{k}", SHEET, PRICE) for k in range(math.ceil(groups / 5)))
    parting = None
    if way is not None:
        parting = Parting(way, MARGIN_MM[way], STRIP_LEAST_MM[way])
    return Job(
        sheets,
        pieces,
        edge_margin_mm=2.0,
        hands=Hands(gap_mm=1.0, shared_mm=0.5),
        worth="two",
        parting=parting,
    )


# share of the metal that is pieces where twenty seconds placed all but one to three of them, before
# what is left out took part in the search
TIGHT = {
    "fish and leaves": 0.68,
    "mixed pendants": 0.59,
    "rings and frames": 0.62,
    "straight tags": 0.89,
    "triangles": 0.80,
    "up and down only": 0.65,
    "offcuts first": 0.68,
    "sixty small": 0.68,
}


def tight_jobs(share: float = 1.0) -> dict[str, Job]:
    """The same pieces on two equal sheets, or an offcut and one, so small that it is hard to
    place all; `share` 1.02 is two per cent fuller still."""
    found = {}
    for name, job in class_jobs().items():
        area = sum(wanted.outline.area * wanted.count for wanted in job.pieces)
        area /= share * TIGHT[name]
        offcuts = [stock for stock in job.metal if stock.id.startswith("O")][:1]
        sheets, high = (1, 60.0) if offcuts else (2, 80.0)
        wide = (area - sum(o.outline.area for o in offcuts)) / (sheets * high)
        made = (Stock(f"S{k}", box(0, 0, wide, high), PRICE) for k in range(sheets))
        found[name] = replace(job, metal=(*offcuts, *made))
    return found


def _at(shape: Polygon, x: float, y: float) -> list[tuple[float, float]]:
    return [(px + x, py + y) for px, py in shape.exterior.coords]


def _polar(count: int, radius: object) -> Polygon:
    assert callable(radius)
    return Polygon(
        [
            (
                radius(k) * math.cos(2 * math.pi * k / count),
                radius(k) * math.sin(2 * math.pi * k / count),
            )
            for k in range(count)
        ]
    )


def many_stars(count: int) -> Job:
    """As many stars of thirty sizes, on metal with room for all: to see how time grows."""
    sizes = [13.0 + 0.1 * (k % 30) for k in range(min(count, 30))]
    share, more = divmod(count, len(sizes))
    pieces = tuple(
        Wanted(f"star {k}", star(5, size, 0.45 * size), share + (k < more))
        for k, size in enumerate(sizes)
    )
    width = max(305.0, 4.0 * count)
    return Job((Stock("S1", box(0, 0, width, 305.0), PRICE),), pieces)
