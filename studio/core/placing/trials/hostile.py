"""Random jobs with everything in them that has ever made a placing program stumble.

Made by rule from a number: for the proof that `bench_placing --judge` runs, and for tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from studio.core.cutting.job import Job, Stock, Wanted

from .hostile_hands import HAND_KINDS
from .hostile_parted import PARTED_KINDS
from .samples import anchor, disc, fish, frame, heart, leaf, ring, star, wave

Chance = np.random.Generator
FAR_MM = 40_000.0
TURNS: tuple[tuple[float, ...] | None, ...] = (
    None,
    None,
    (0.0,),
    (0.0, 180.0),
    (0.0, 90.0, 180.0, 270.0),
    (-370.0, 33.3, 400.1),
)


def hostile_job(number: int) -> Job:
    """The job of that number: each of `KINDS` in turn, filled in by chance."""
    chance = np.random.default_rng([20_261_125, number])
    kinds = list(KINDS.values())
    return kinds[number % len(kinds)](chance)


def kind_of(number: int) -> str:
    """What is hostile about the job of that number."""
    return list(KINDS)[number % len(KINDS)]


def _job(chance: Chance, metal: list[Stock], pieces: list[Wanted]) -> Job:
    wide = float(chance.choice([0.0, 6.0, 12.0, 25.0]))
    return Job(
        tuple(metal),
        tuple(pieces),
        kerf_mm=float(chance.choice([0.0, 0.0005, 0.16, 0.3, 0.3, 0.3, 2.5])),
        saw_cost_per_mm=float(chance.choice([0.0, 0.002, 0.05])),
        scrap_worth=float(chance.choice([0.0, 0.1, 1.0])),
        offcut_min_width_mm=wide,
        offcut_min_area_mm2=float(chance.choice([0.0, 50.0, 600.0])) if wide else 50.0,
        edge_margin_mm=float(chance.choice([0.0, 0.0, 1.5])),
    )


def _span(chance: Chance, low: float, high: float) -> float:
    return float(np.round(chance.uniform(low, high), int(chance.integers(0, 5))))


def _metal(
    chance: Chance, name: str = "S1", outline: Polygon | MultiPolygon | None = None
) -> Stock:
    if outline is None:
        outline = _stock(chance)
    return Stock(
        name,
        outline,
        float(chance.choice([0.0, 0.0003, 0.02])),
        clean_edges=bool(chance.random() < 0.6),
        grain_deg=None if chance.random() < 0.7 else float(chance.choice([0.0, 90.0, 37.5])),
    )


def _stock(chance: Chance) -> Polygon | MultiPolygon:
    wide, high = _span(chance, 40, 200), _span(chance, 40, 120)
    whole = box(0, 0, wide, high)
    pick = int(chance.integers(0, 6))
    if pick == 0:
        return whole
    if pick == 1:
        return Polygon([(0, 0), (wide, 3), (0.8 * wide, high), (0.4 * wide, 0.5 * high), (2, high)])
    if pick == 2:
        return Polygon(whole.exterior, [affinity.translate(disc(9), wide / 2, high / 2).exterior])
    if pick == 3:
        return MultiPolygon([box(0, 0, wide / 2, high), box(wide / 2 + 4, 5, wide, high)])
    if pick == 4:  # what earlier cutting left: bites out of rim and middle
        bites = [
            affinity.translate(_plain(chance), _span(chance, 0, wide), _span(chance, 0, high))
            for _ in range(int(chance.integers(1, 6)))
        ]
        left: Polygon | MultiPolygon = whole
        for bite in bites:
            rest = left.difference(bite.buffer(0.3))
            if isinstance(rest, Polygon | MultiPolygon) and rest.area > 200.0:
                left = rest
        return left
    turned = affinity.rotate(whole, _span(chance, 0, 90), origin=(0, 0))
    return affinity.translate(turned, *(FAR_MM * chance.uniform(-1, 1, 2)))


def _plain(chance: Chance) -> Polygon:
    size = _span(chance, 6, 40)
    makers: list[Callable[[], Polygon]] = [
        lambda: box(0, 0, size, _span(chance, 4, 40)),
        lambda: Polygon([(0, 0), (size, 0), (0, _span(chance, 4, 30))]),
        lambda: star(int(chance.integers(3, 9)), size / 2, size / _span(chance, 3, 8)),
        lambda: ring(size / 2, size / 2 - min(2.0, size / 6)),
        lambda: frame(size + 8, size + 4, 3),
        lambda: heart(size),
        lambda: fish(size / 2),
        lambda: leaf(size, size / 4),
        lambda: anchor(size),
        lambda: wave(size, 8),
        lambda: disc(size / 2),
        lambda: affinity.rotate(box(0, 0, size, 5), _span(chance, 0, 90), origin=(0, 0)),
    ]
    return makers[int(chance.integers(0, len(makers)))]()


def _orders(chance: Chance, outlines: list[Polygon], most: int = 4) -> list[Wanted]:
    return [
        Wanted(
            f"p{number}",
            outline,
            int(chance.integers(0, most + 1)),
            TURNS[int(chance.integers(0, len(TURNS)))],
            may_mirror=bool(chance.random() < 0.3),
            grain_deg=None if chance.random() < 0.8 else float(chance.choice([0.0, 90.0, 20.0])),
        )
        for number, outline in enumerate(outlines)
    ]


def _mixed(chance: Chance) -> Job:
    outlines = [_plain(chance) for _ in range(int(chance.integers(1, 9)))]
    metal = [_metal(chance, f"S{k}") for k in range(int(chance.integers(1, 4)))]
    return _job(chance, metal, _orders(chance, outlines))


def _many_vertices(chance: Chance) -> Job:
    outlines = []
    for _ in range(int(chance.integers(1, 4))):
        count = int(chance.integers(600, 1800))
        t = 2 * np.pi * np.arange(count) / count
        lobes, size = int(chance.integers(2, 9)), _span(chance, 8, 24)
        rough = 0.004 * size * np.cumsum(chance.normal(0, 0.05, count)) * np.sin(t / 2)
        radius = size * (1 + 0.25 * np.cos(lobes * t)) + rough
        outline = Polygon(np.column_stack([radius * np.cos(t), radius * np.sin(t)]))
        outlines.append(outline if outline.is_valid else disc(size))
    return _job(chance, [_metal(chance)], _orders(chance, outlines, 3))


def _slivers(chance: Chance) -> Job:
    outlines = [
        Polygon([(0, 0), (long := _span(chance, 20, 90), 0), (long, _span(chance, 0.05, 0.6))]),
        box(0, 0, _span(chance, 30, 80), 0.1),
        star(3, 30, 0.4),
        _plain(chance),
    ]
    outlines = [o for o in outlines if o.is_valid and o.area > 0.02]
    return _job(chance, [_metal(chance)], _orders(chance, outlines))


def _touching_windows(chance: Chance) -> Job:
    side = _span(chance, 20, 50)
    at_rim = Polygon(
        [(0, 0), (side, 0), (side, side), (0, side)],
        [[(0, side / 2), (side / 4, side / 3), (side / 4, side / 1.5)]],
    )
    each_other = Polygon(
        box(0, 0, side, side).exterior,
        [
            [(2, 2), (side / 2, side / 2), (2, side - 2)],
            [(side - 2, 2), (side - 2, side - 2), (side / 2, side / 2)],
        ],
    )
    outlines = [at_rim, each_other, frame(side, side, 0.2), _plain(chance), disc(side / 9)]
    return _job(chance, [_metal(chance)], _orders(chance, outlines, 3))


def _exact_widths(chance: Chance) -> Job:
    wide, high = _span(chance, 60, 200), _span(chance, 20, 60)
    outlines = [box(0, 0, wide / 4, high), box(0, 0, high, wide / 5), box(0, 0, wide, high / 3)]
    metal = Stock("S1", box(0, 0, wide, high), 0.0003, clean_edges=bool(chance.random() < 0.8))
    return _job(chance, [metal], _orders(chance, outlines, 3))


def _in_parts(chance: Chance) -> Job:
    parts = [
        affinity.translate(
            affinity.rotate(box(0, 0, _span(chance, 12, 60), _span(chance, 12, 50)), 9 * k), 90 * k
        )
        for k in range(int(chance.integers(2, 5)))
    ]
    outlines = [_plain(chance) for _ in range(4)]
    return _job(chance, [_metal(chance, outline=MultiPolygon(parts))], _orders(chance, outlines))


def _nothing(chance: Chance) -> Job:
    metal = [] if chance.random() < 0.3 else [_metal(chance)]
    pieces = [Wanted("none", _plain(chance), 0)] if chance.random() < 0.5 or not metal else []
    return _job(chance, metal, [*pieces, *([] if metal else [Wanted("a", _plain(chance), 2)])])


def _nothing_fits(chance: Chance) -> Job:
    outlines = [box(0, 0, 300, _span(chance, 4, 200)), star(5, 400, 100), ring(150, 149)]
    return _job(chance, [_metal(chance)], _orders(chance, [*outlines, _plain(chance)], 2))


def _only_in_windows(chance: Chance) -> Job:
    side, web = _span(chance, 30, 60), _span(chance, 2, 6)
    inner = side - 2 * web - 0.61
    outlines = [frame(side, side, web), box(0, 0, inner, inner), disc(inner / 5), star(5, 6, 3)]
    return _job(
        chance,
        [Stock("S1", box(0, 0, side, side), 0.0003)],
        _orders(chance, outlines, 2),
    )


def _comb(chance: Chance) -> Job:
    """Deep concave pieces, whose boxes say little about where there is room."""
    teeth = int(chance.integers(3, 8))
    rise, step = _span(chance, 10, 30), _span(chance, 3, 6)
    points = [(0.0, -3.0), (2 * teeth * step, -3.0)]
    for k in reversed(range(teeth)):
        x = 2 * k * step
        points.extend([(x + 2 * step, 0), (x + step, 0), (x + step, rise), (x, rise), (x, 0)])
    hook = Polygon([(0, 0), (40, 0), (40, 30), (30, 30), (30, 4), (4, 4), (4, 30), (0, 30)])
    spiral = _spiral(_span(chance, 1.5, 3))
    outlines = [o for o in (Polygon(points), hook, spiral, _plain(chance)) if o.is_valid]
    return _job(chance, [_metal(chance)], _orders(chance, outlines, 3))


def _spiral(web: float) -> Polygon:
    t = np.linspace(2 * math.pi, 6 * math.pi, 90)
    radius = 1.2 * t
    line = np.column_stack([radius * np.cos(t), radius * np.sin(t)])
    inner = np.column_stack([(radius - web) * np.cos(t), (radius - web) * np.sin(t)])
    return Polygon(np.vstack([line, inner[::-1]]))


def _strip(chance: Chance) -> Job:
    outlines = [_plain(chance) for _ in range(int(chance.integers(1, 6)))]
    metal = Stock("S1", box(0, 0, 400, _span(chance, 40, 90)))
    return Job((metal,), tuple(_orders(chance, outlines)), kerf_mm=0.0, goal="strip")


def _crowded(chance: Chance) -> Job:
    """More than the metal takes: some must be left, and the reason given."""
    outlines = [_plain(chance) for _ in range(4)]
    small = box(0, 0, _span(chance, 30, 60), _span(chance, 30, 60))
    return _job(chance, [_metal(chance, outline=small)], _orders(chance, outlines, 9))


KINDS: dict[str, Callable[[Chance], Job]] = (
    {
        "mixed shapes on mixed metal": _mixed,
        "a thousand vertices a piece": _many_vertices,
        "slivers": _slivers,
        "touching windows": _touching_windows,
        "pieces exactly as wide as the metal": _exact_widths,
        "metal in several parts": _in_parts,
        "nothing to place or nothing to place it on": _nothing,
        "nothing that fits": _nothing_fits,
        "room only in windows": _only_in_windows,
        "combs, hooks and spirals": _comb,
        "a strip": _strip,
        "more than there is room for": _crowded,
    }
    | HAND_KINDS
    | PARTED_KINDS
)
