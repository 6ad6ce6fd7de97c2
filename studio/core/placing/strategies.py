"""In which directions, in which order and on which metal to lay pieces: what to try next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studio.core.cutting.job import Job, Placement
from studio.core.placing.shapes import edges_left

from .laying.construct import Builder, Strategy
from .laying.sheets import AXES

ALONG = ("EN", "ES", "WN", "WS", "NE", "SE", "NW", "SW")  # for metal wider than high
ACROSS = ("NE", "NW", "SE", "SW", "EN", "WN", "ES", "WS")
STRIP = ("EN", "ES")
MANY = 80  # copies from which the first plan is made with a swift look
STRAIGHT_MM = 6.0  # an edge shorter than this is more likely part of a curve


def fills(job: Job) -> tuple[str, ...]:
    """Fill directions, the most promising first: along the largest metal's longer side."""
    if job.goal == "strip":
        return STRIP
    largest = max(job.metal, key=lambda metal: metal.outline.area)
    x0, y0, x1, y1 = largest.outline.bounds
    return ALONG if x1 - x0 >= y1 - y0 else ACROSS


def first_strategies(job: Job, builder: Builder) -> list[Strategy]:
    """The plans made first: orders of metals, of pieces, and fill directions in turn."""
    copies = builder.copies
    # by the area that a shell covers: a frame goes before what may lie in its window
    by_area = tuple(sorted(range(len(copies)), key=lambda i: (-copies[i][0].covered, i)))
    by_length = tuple(sorted(range(len(copies)), key=lambda i: (-copies[i][0].longest, i)))
    metals = metal_orders(job, builder)
    ways = fills(job)
    found = [
        # where there is much to try, the first plan must not wait for a few tight fits
        Strategy(
            ways[0],
            by_area,
            metals[0],
            patient=len(job.metal) * len(job.pieces) <= 40 and len(copies) <= MANY,
            swift=len(copies) > MANY,
        ),
        Strategy(ways[0], by_length, metals[0]),
    ]
    found.extend(Strategy(ways[0], by_area, order) for order in metals[1:])
    found.extend(Strategy(way, by_area, metals[0]) for way in ways[1:])
    found.append(Strategy(ways[0], by_area, metals[0], wide=True))
    return found


def straight_share(job: Job) -> float:
    """How much of all pieces' rims is long straight edges, which may be shared or free: 0 to 1."""
    straight = whole = 0.0
    for wanted in job.pieces:
        edges = edges_left(wanted.outline)
        length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
        straight += wanted.count * float(length[length >= STRAIGHT_MM].sum())
        whole += wanted.count * float(length.sum())
    return straight / whole if whole > 0.0 else 0.0


def metal_orders(job: Job, builder: Builder) -> list[tuple[int, ...]]:
    """Orders in which to try the metals: cheapest first, largest first, each one first."""
    metal = job.metal
    numbers = range(len(metal))
    cheap = sorted(numbers, key=lambda i: (metal[i].outline.area * metal[i].price_per_mm2, i))
    large = sorted(numbers, key=lambda i: (-metal[i].outline.area, i))
    need = sum(shape.area for shape, _ in builder.copies)
    alone = [i for i in cheap if metal[i].outline.area >= 1.1 * need][:4]
    orders = [tuple(cheap), tuple(large)]
    orders.extend((i, *(j for j in cheap if j != i)) for i in alone)
    return list(dict.fromkeys(orders))


def varied(job: Job, strategy: Strategy, rng: np.random.Generator) -> Strategy:
    """A strategy with a few pieces moved in its sequence, or more changed."""
    sequence = list(strategy.sequence)
    if len(sequence) > 1:
        for _ in range(int(rng.integers(1, 4))):
            a, b = (int(v) for v in rng.integers(0, len(sequence), 2))
            sequence.insert(b, sequence.pop(a))
    metals = list(strategy.metals)
    if len(metals) > 1 and rng.random() < 0.3:
        a, b = (int(v) for v in rng.integers(0, len(metals), 2))
        metals[a], metals[b] = metals[b], metals[a]
    fill = strategy.fill
    if rng.random() < 0.2:
        choice = fills(job)
        fill = choice[int(rng.integers(0, len(choice)))]
    wide = strategy.wide if rng.random() < 0.8 else not strategy.wide
    return Strategy(fill, tuple(sequence), tuple(metals), wide)


def largest_first(builder: Builder, strategy: Strategy) -> Strategy:
    """A strategy made for other pieces, taken over for these."""
    copies = builder.copies
    sequence = sorted(range(len(copies)), key=lambda i: (-copies[i][0].covered, i))
    return replace(strategy, sequence=tuple(sequence))


def any_way(builder: Builder, metals: tuple[int, ...], rng: np.random.Generator) -> Strategy:
    """Pieces laid roughly by size, in any direction."""
    size = np.array([shape.covered for shape, _ in builder.copies])
    order = np.argsort(-size * np.exp(0.3 * rng.standard_normal(len(size))), kind="stable")
    choice = fills(builder.job)
    return Strategy(choice[int(rng.integers(0, len(choice)))], tuple(order.tolist()), metals)


def some_taken_up(
    builder: Builder,
    placements: tuple[Placement, ...],
    left: tuple[int, ...],
    strategy: Strategy,
    rng: np.random.Generator,
) -> tuple[Strategy, list[Placement]]:
    """A strategy for laying anew some neighbouring pieces (and what is left), and the rest.

    Either the pieces furthest along the fill direction, or those around one of them.
    """
    dx, dy = AXES[strategy.fill[0]]
    spots = []
    for p in placements:
        x0, y0, x1, y1 = builder.by_id[p.piece].variant(p.turn_deg, p.mirror).bounds
        spots.append((p.x_mm + (x0 + x1) / 2, p.y_mm + (y0 + y1) / 2))
    middles = np.array(spots)
    most = max(2, min(len(placements), int(rng.integers(3, 4 + max(4, len(placements) // 3)))))
    far = middles @ np.array([dx, dy])
    if rng.random() < 0.4:
        rank = -far + rng.random(len(far)) * 0.15 * (np.ptp(far) + 1e-9)
    else:
        centre = int(rng.integers(0, len(placements)))
        rank = np.hypot(*(middles - middles[centre]).T)
        metal = placements[centre].metal
        elsewhere = np.array([p.metal != metal for p in placements])
        # on other metal only what lies furthest: it may find room where something was taken up
        rank = np.where(elsewhere, 1e6 - far, rank)
    taken = set(np.argsort(rank, kind="stable")[:most].tolist())
    numbers = {(shape.wanted.id, copy): index for index, (shape, copy) in enumerate(builder.copies)}
    again = [numbers[placements[k].piece, placements[k].copy] for k in sorted(taken)]
    again.extend(left)
    size = np.array([builder.copies[index][0].covered for index in again])
    order = np.argsort(-size * np.exp(0.5 * rng.standard_normal(len(size))), kind="stable")
    sequence = tuple(again[k] for k in order.tolist())
    kept = [p for k, p in enumerate(placements) if k not in taken]
    second = strategy.fill[1] if rng.random() < 0.7 else _other_side(strategy.fill[1])
    fill = strategy.fill[0] + second
    again_with = replace(strategy, sequence=sequence, fill=fill, patient=True, swift=False)
    return again_with, kept


def _other_side(name: str) -> str:
    return {"E": "W", "W": "E", "N": "S", "S": "N"}[name]
