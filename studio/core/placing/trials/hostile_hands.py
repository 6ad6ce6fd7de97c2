"""Random jobs that try each of the rules for hands, alone and against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Polygon, box

from studio.core.cutting.job import Hands, Job, Placement, Stock, Wanted

from .samples import disc, frame, leaf, ring, star

Chance = np.random.Generator
PRICE = 0.0003


def _job(chance: Chance, metal: list[Stock], pieces: list[Wanted], hands: Hands) -> Job:
    kerf = min(float(chance.choice([0.0, 0.16, 0.3, 0.3])), hands.gap_mm, hands.shared_mm)
    return Job(
        tuple(metal),
        tuple(pieces),
        kerf_mm=kerf,
        saw_cost_per_mm=float(chance.choice([0.0, 0.002, 0.05])),
        offcut_min_width_mm=float(chance.choice([4.0, 12.0])),
        offcut_min_area_mm2=float(chance.choice([50.0, 600.0])),
        edge_margin_mm=float(chance.choice([0.0, 2.0, 5.0])),
        hands=hands,
        worth="two" if chance.random() < 0.8 else "one",
    )


def _usual(chance: Chance) -> Hands:
    picks = [Hands(2.0, 0.7), Hands(1.0, 0.5), Hands(0.3, 0.3)]
    return picks[int(chance.integers(0, len(picks)))]


def _sheet(chance: Chance, name: str = "S1") -> Stock:
    wide, high = np.round(chance.uniform([60, 50], [160, 110]), 2)
    return Stock(name, box(0, 0, wide, high), PRICE)


def _some(chance: Chance, outlines: list[Polygon], most: int = 4) -> list[Wanted]:
    return [
        Wanted(
            f"p{number}",
            outline,
            int(chance.integers(1, most + 1)),
            None if chance.random() < 0.6 else (0.0, 90.0),
            may_mirror=bool(chance.random() < 0.3),
            group=f"seat-{number % 3}",
        )
        for number, outline in enumerate(outlines)
    ]


def _plain(chance: Chance) -> list[Polygon]:
    size = float(np.round(chance.uniform(8, 26), 2))
    return [
        box(0, 0, size, 0.6 * size),
        disc(size / 2),
        star(5, size / 2, size / 5),
        leaf(size, size / 4),
        Polygon([(0, 0), (size, 0), (0, 0.7 * size)]),
    ]


def _gaps(chance: Chance) -> Job:
    gap = float(chance.choice([0.0, 0.3, 1.0, 2.0, 6.0, 30.0]))
    shared = float(chance.choice([0.0, 0.3, 0.7, 1.5, 4.0]))
    hands = Hands(gap, shared, float(chance.choice([0.0, 1.0, 8.0, 40.0, 10_000.0])))
    return _job(chance, [_sheet(chance)], _some(chance, _plain(chance)), hands)


def _runs_about_as_long_as_asked(chance: Chance) -> Job:
    """Sides a hair longer and shorter than a run must be, straight to a hair, in steps."""
    side = 8.0 + float(chance.choice([-0.01, 0.0, 0.01, 0.5]))
    bend = float(chance.choice([0.02, 0.049, 0.051, 0.2]))
    wavy = [(x, bend * (k % 2)) for k, x in enumerate(np.linspace(0, 3 * side, 25).tolist())]
    notched = Polygon([(0, 0), (side, 0), (side, 1), (side + 0.4, 1), (side + 0.4, 9), (0, 9)])
    outlines = [
        box(0, 0, side, side),
        Polygon([*wavy, (3 * side, 9), (0, 9)]),
        Polygon([(0, 0), (side, -bend), (2 * side, 0), (2 * side, 7), (0, 7)]),
        notched,
        box(0, 0, 4 * side, 2.0).buffer(0.8, quad_segs=6),
    ]
    return _job(chance, [_sheet(chance)], _some(chance, outlines, 3), _usual(chance))


def _grazing_curves(chance: Chance) -> Job:
    """Discs so large that their rims are all but straight, and rings that just fit the metal."""
    metal = _sheet(chance)
    _, _, wide, high = metal.outline.bounds
    flat = Polygon(
        [(x, 0.0005 * (x - 20) ** 2 * float(chance.uniform(0.2, 4))) for x in range(41)]
        + [(40, 12), (0, 12)]
    )
    outlines = [flat, disc(high / 2 - 1.0), disc(high / 2), ring(12, 7), disc(wide / 8)]
    return _job(chance, [metal], _some(chance, outlines, 2), _usual(chance))


def _rough_and_clean(chance: Chance) -> Job:
    metals = []
    for k in range(int(chance.integers(1, 3))):
        metal = _sheet(chance, f"S{k}")
        rim: list[tuple[float, ...]] = list(metal.outline.boundary.coords)
        sides = [LineString(rim[n : n + 2]) for n in range(4) if chance.random() < 0.5]
        part = LineString(rim[:2]).segmentize(5.0)
        sides.append(LineString(list(part.coords)[2:5]))
        metals.append(replace(metal, rough_edges=MultiLineString(sides)))
    metals.append(replace(_sheet(chance, "rough"), clean_edges=bool(chance.random() < 0.3)))
    return _job(chance, metals, _some(chance, _plain(chance), 3), _usual(chance))


def _blocks(chance: Chance) -> Job:
    """Tags that fill the metal in rows by shared lines, and no other way."""
    hands = _usual(chance)
    wide, high = float(chance.choice([10.0, 18.0])), float(chance.choice([8.0, 9.5]))
    across, up = int(chance.integers(2, 5)), int(chance.integers(2, 5))
    metal = box(
        0,
        0,
        across * wide + (across - 1) * hands.shared_mm,
        up * high + (up - 1) * hands.shared_mm,
    )
    turned = affinity.rotate(metal, float(chance.choice([0.0, 0.0, 31.0])), origin=(0, 0))
    return _job(
        chance,
        [Stock("S1", turned, PRICE), _sheet(chance, "S2")],
        [Wanted("tag", box(0, 0, wide, high), across * up)],
        hands,
    )


def _fixed(chance: Chance) -> Job:
    """Pieces that stand already: in the middle, on the edge, too near each other."""
    side = 16.0
    metal = Stock("S1", box(0, 0, 150, 100), PRICE)
    kinds = [Wanted("a", box(0, 0, side, side), 6), *_some(chance, _plain(chance), 3)]
    places = [(60.0, 40.0), (60.0 + side + float(chance.choice([0.1, 0.5, 3.0])), 40.0), (0.05, 0)]
    stand = tuple(
        Placement("a", copy, "S1", False, 0.0, x, y)
        for copy, (x, y) in enumerate(places[: int(chance.integers(1, 4))])
    )
    return replace(_job(chance, [metal], kinds, _usual(chance)), fixed=stand)


def _start(chance: Chance) -> Job:
    """A layout to begin from: sound, faulty, or of some of the pieces only."""
    metal = Stock("S1", box(0, 0, 150, 100), PRICE)
    count, step = int(chance.integers(2, 7)), float(chance.choice([22.5, 20.7, 20.1, 5.0]))
    kinds = [Wanted("a", box(0, 0, 20, 14), count)]
    begin = tuple(
        Placement("a", copy, "S1", False, 0.0, step * copy, 0.0)
        for copy in range(int(chance.integers(1, count + 1)))
    )
    return replace(_job(chance, [metal], kinds, _usual(chance)), start=begin)


def _windows(chance: Chance) -> Job:
    """Room in windows: wide enough with the gap, by a shared line only, or not at all."""
    hands = _usual(chance)
    room = 20.0 + 2 * float(chance.choice([hands.shared_mm, hands.gap_mm, 0.1, 5.0]))
    web = 6.0
    outlines = [frame(room + 2 * web, room + 2 * web, web), box(0, 0, 20, 20), disc(10)]
    metal = Stock("S1", box(0, 0, 2 * room + 40, room + 2 * web + 4), PRICE)
    return _job(chance, [metal], _some(chance, outlines, 2), hands)


def _holed_metal(chance: Chance) -> Job:
    """Metal with holes and in parts, with edges of every kind."""
    holed = box(0, 0, 140, 90).difference(box(40, 20, 80, 60))
    holed = holed.difference(affinity.translate(disc(9), 110, 45))
    assert isinstance(holed, Polygon)
    rough = MultiLineString([[(40, 20), (80, 20)], [(0, 0), (0, 90), (140, 90)]])
    metal = Stock("S1", holed, PRICE, rough_edges=rough if chance.random() < 0.6 else None)
    return _job(chance, [metal], _some(chance, _plain(chance), 4), _usual(chance))


HAND_KINDS: dict[str, Callable[[Chance], Job]] = {
    "gaps and shared lines of every width": _gaps,
    "runs about as long and straight as asked": _runs_about_as_long_as_asked,
    "curves that graze edges": _grazing_curves,
    "edges rough and clean": _rough_and_clean,
    "blocks by shared lines": _blocks,
    "pieces that stand": _fixed,
    "a layout to begin from": _start,
    "windows with and without room for the gap": _windows,
    "metal with holes and rough edges": _holed_metal,
}
