"""Random jobs whose metal is parted: what makes cuts hard, alone and together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box

from studio.core.cutting.job import Hands, Job, Parting, Placement, Stock, Wanted

from .samples import disc, frame, leaf, star

Chance = np.random.Generator
PRICE = 0.0003


def _job(
    chance: Chance, metal: list[Stock], pieces: list[Wanted], parting: Parting | None = None
) -> Job:
    hands = [Hands(2.0, 0.7), Hands(1.0, 0.5), Hands(0.3, 0.3)][int(chance.integers(0, 3))]
    return Job(
        tuple(metal),
        tuple(pieces),
        kerf_mm=float(chance.choice([0.0, 0.3])),
        offcut_min_width_mm=float(chance.choice([4.0, 12.0])),
        offcut_min_area_mm2=float(chance.choice([50.0, 600.0])),
        edge_margin_mm=2.0,
        hands=hands,
        worth="two",
        parting=parting or _usual(chance),
    )


def _usual(chance: Chance) -> Parting:
    ways = (Parting("shear", 1.0, 15.0), Parting("saw", 2.0, 5.0, None, 76.0))
    return ways[int(chance.integers(0, 2))]


def _groups(chance: Chance, count: int, most: float = 26.0) -> list[Wanted]:
    """As many groups of one to four pieces, now and then without a name."""
    found = []
    for number in range(count):
        name = None if chance.random() < 0.1 else f"seat-{number}"
        for k in range(int(chance.integers(1, 4))):
            size = float(np.round(chance.uniform(6, most), 2))
            outlines = (
                box(0, 0, size, 0.6 * size),
                disc(size / 2),
                star(5, size / 2, size / 5),
                leaf(size, size / 4),
                frame(size + 4, size + 6, 2.0),
            )
            turns = (None, None, (0.0, 90.0), (0.0, 180.0), (33.0,))[int(chance.integers(0, 5))]
            outline = outlines[int(chance.integers(0, len(outlines)))]
            mirror = bool(chance.random() < 0.2)
            count_of = 2 if chance.random() < 0.2 else 1
            found.append(Wanted(f"{number}-{k}", outline, count_of, turns, mirror, name))
    return found


def _sheet(name: str = "S1", wide: float = 160.0, high: float = 110.0) -> Stock:
    return Stock(name, box(0, 0, wide, high), PRICE)


def _many_groups(chance: Chance) -> Job:
    return _job(chance, [_sheet("S1", 305, 150), _sheet("S2", 305, 150)], _groups(chance, 40, 20))


def _odd_metal(chance: Chance) -> Job:
    """Holes, notches, turned outlines, metal in two parts, edges rough and clean."""
    holed = box(0, 0, 140, 90).difference(box(50, 30, 80, 60))
    ell = Polygon([(0, 0), (120, 0), (120, 40), (50, 40), (50, 90), (0, 90)])
    apart = MultiPolygon([box(0, 0, 60, 60), box(80, 5, 150, 70)])
    outlines = (holed, ell, apart, star(7, 70, 45), disc(55))
    metal = []
    for k in range(int(chance.integers(1, 4))):
        outline = outlines[int(chance.integers(0, len(outlines)))]
        turned = affinity.rotate(outline, float(chance.choice([0.0, 0.0, 31.0])), origin=(0, 0))
        assert isinstance(turned, Polygon | MultiPolygon)
        rough = None
        if isinstance(turned, Polygon) and chance.random() < 0.5:
            rough = MultiLineString([LineString(turned.exterior.coords[:2])])
        clean = bool(chance.random() < 0.7)
        grain = float(chance.choice([0.0, 45.0])) if chance.random() < 0.3 else None
        metal.append(Stock(f"S{k}", turned, PRICE, clean, grain, rough if clean else None))
    pieces = _groups(chance, int(chance.integers(1, 7)))
    return _job(
        chance,
        metal,
        [replace(w, grain_deg=0.0 if k % 5 == 0 else None) for k, w in enumerate(pieces)],
    )


def _a_group_too_large(chance: Chance) -> Job:
    """A group that no stock piece holds, some pieces that no metal holds."""
    metal = [_sheet("S1", 90, 60), _sheet("S2", 80, 60)]
    pieces = [
        Wanted("a", box(0, 0, 50, 40), int(chance.integers(2, 4)), group="large"),
        Wanted("b", box(0, 0, 300, 10), 1, group="large"),
        *_groups(chance, 2, 12),
    ]
    return _job(chance, metal, pieces)


def _hardly_to_be_cut(chance: Chance) -> Job:
    """Margins wider than the metal, strips wider than it, no shear and no frame to speak of."""
    way = "shear" if chance.random() < 0.5 else "saw"
    parting = Parting(
        "shear" if way == "shear" else "saw",
        float(chance.choice([0.0, 1.0, 30.0, 100.0])),
        float(chance.choice([0.0, 5.0, 60.0, 1000.0])),
        float(chance.choice([0.0, 40.0, 110.0])) if way == "shear" else None,
        float(chance.choice([0.0, 10.0, 55.0])) if way == "saw" else None,
    )
    return _job(chance, [_sheet(), _sheet("S2", 40, 40)], _groups(chance, 4), parting)


def _standing(chance: Chance) -> Job:
    """Pieces of one or several groups that stand, and groups that want more."""
    pieces = [
        Wanted("a", box(0, 0, 16, 16), 4, group="one"),
        Wanted("b", disc(8), 3, group="two"),
        *_groups(chance, 3, 16),
    ]
    places = [("a", 0, 20.0, 20.0), ("b", 0, 100.0, 80.0), ("a", 1, 37.5, 20.0)]
    stand = tuple(
        Placement(name, copy, "S1", False, 0.0, x, y)
        for name, copy, x, y in places[: int(chance.integers(1, 4))]
    )
    return replace(_job(chance, [_sheet(), _sheet("S2")], pieces), fixed=stand)


def _begun(chance: Chance) -> Job:
    """A layout to begin from that can be parted, or cannot."""
    pieces = [Wanted(f"p{k}", box(0, 0, 18, 14), 1, group=f"seat-{k % 2}") for k in range(4)]
    step = float(chance.choice([24.0, 20.0, 10.0]))
    start = tuple(
        Placement(f"p{k}", 0, "S1", False, 0.0, 6.0 + step * (k // 2), 6.0 + 40.0 * (k % 2))
        for k in range(int(chance.integers(1, 5)))
    )
    return replace(_job(chance, [_sheet()], pieces), start=start)


PARTED_KINDS: dict[str, Callable[[Chance], Job]] = {
    "forty groups": _many_groups,
    "groups on odd metal": _odd_metal,
    "a group that no metal holds": _a_group_too_large,
    "metal that can hardly be cut": _hardly_to_be_cut,
    "groups that stand already": _standing,
    "a layout to begin from that is parted": _begun,
}
