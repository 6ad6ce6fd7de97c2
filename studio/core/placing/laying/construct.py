"""One plan from nothing: pieces laid one after another, each where it costs least.

A raster proposes places, exact slides settle them against metal and neighbours, and a figure
in money chooses. Always valid by construction (the judge still has the last word).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from studio.core.cutting.job import Job, Placement, Stock
from studio.core.placing.shapes import Shape, Variant

from .proposals import CLOSE, QUICK, Look, corner_places, free_cells
from .raster import Kernels
from .reach import exact_places
from .sheets import AXES, Face, Sheet, extent, may_fit, moved
from .sliding import flush_length, slide

Array = npt.NDArray[np.float64]

PROPOSALS = 6  # places settled exactly before one is chosen
SWIFT_PROPOSALS, SWIFT_VARIANTS = 2, 4
SETTLE_STEPS = 8
NEXT_TO_NOTHING = 0.2
SQUEEZES = 60_000  # pairs of edges that exact placing may look at in the first plan
FEWER_SQUEEZES = 12_000  # and in each one after: what found no place mostly finds none again


@dataclass(frozen=True)
class Strategy:
    """What distinguishes one plan from the next.

    `fill` names two compass directions: metal is used up along the first, then along the
    second ("EN": from the left edge, and there from the bottom). `sequence` is the order of
    pieces (indices of copies), `metals` the order in which stock pieces are tried. `wide` tries
    many turns at once; without `patient` what needs a closer look waits until all else lies.
    `swift` looks at few turns and places, so that even hundreds of pieces lie soon. Without
    `squeeze` no place is sought by exact geometry where the raster shows none.
    """

    fill: str
    sequence: tuple[int, ...]
    metals: tuple[int, ...]
    wide: bool = False
    patient: bool = True
    swift: bool = False
    squeeze: bool = True


class OutOfTime(Exception):
    """The clock has run out in the middle of a plan."""


class Builder:
    """Makes plans for one job; keeps what every plan needs (shapes, spectra, empty sheets)."""

    def __init__(self, job: Job, runs: Mapping[str, Array] = MappingProxyType({})) -> None:
        """`runs` has the straight runs of pieces that are not to be read from their outlines."""
        self.job = job
        self.shapes = [
            Shape(i, wanted, job, runs.get(wanted.id)) for i, wanted in enumerate(job.pieces)
        ]
        standing = {(p.piece, p.copy) for p in job.fixed}
        self.copies = [
            (shape, copy)
            for shape in self.shapes
            for copy in range(shape.wanted.count)
            if (shape.wanted.id, copy) not in standing
        ]
        self.by_id = {shape.wanted.id: shape for shape in self.shapes}
        self.with_runs = any(len(shape.runs) for shape in self.shapes)
        self.kernels = Kernels()
        self.least = 0.99 * min((shape.area for shape in self.shapes), default=0.0)
        self._blank: dict[int, Sheet] = {}
        self.fitting: dict[int, bool] = {}  # by shape: whether it has found a place, even alone
        self.go_on: Callable[[], bool] = lambda: True
        self.squeezes = SQUEEZES
        self.plans = 0

    def blank(self, index: int) -> Sheet:
        """A fresh copy of an empty stock piece."""
        if index not in self._blank:
            metal = self.job.metal[index]
            self._blank[index] = Sheet(metal, self.job, self.least, with_runs=self.with_runs)
        return self._blank[index].copy()

    def build(
        self,
        strategy: Strategy,
        go_on: Callable[[], bool],
        kept: Sequence[Placement] = (),
    ) -> tuple[list[Placement], list[int], bool]:
        """Placements, indices of copies that found no place, and whether all were tried.

        `kept` placements stay as they are, and come first among those returned.

        `go_on` is asked before every attempt; False stops, the rest counts as not placed.
        """
        self.go_on = go_on
        self.squeezes = FEWER_SQUEEZES if self.plans else SQUEEZES
        self.plans += 1
        sheets = self._with(kept)
        placed = list(kept)
        waiting = list(strategy.sequence)
        looks = ((strategy.wide, True),) if strategy.patient else ((False,), (True,))
        for widths in looks:
            left: list[int] = []
            for number, index in enumerate(waiting):
                shape, copy = self.copies[index]
                try:
                    found = self._lay(shape, strategy, sheets, widths)
                except OutOfTime:
                    return placed, [*left, *waiting[number:]], False
                if found is None:
                    left.append(index)
                    continue
                metal, variant, x, y = found
                name, mirror, turn = shape.wanted.id, variant.mirror, variant.turn_deg
                placed.append(Placement(name, copy, metal.id, mirror, turn, x, y))
            waiting = left
        return placed, waiting, True

    def _with(self, kept: Sequence[Placement]) -> dict[int, Sheet]:
        """Stock pieces on which some pieces lie already."""
        sheets: dict[int, Sheet] = {}
        for index, metal in enumerate(self.job.metal):
            laid = [
                (self.by_id[p.piece].variant(p.turn_deg, p.mirror), p.x_mm, p.y_mm)
                for p in kept
                if p.metal == metal.id
            ]
            if laid:
                sheets[index] = self.blank(index)
                sheets[index].take(laid)
        return sheets

    def try_alone(self, shape: Shape, go_on: Callable[[], bool]) -> None:
        """Find out whether a piece finds a place on some stock piece when it is the only one."""
        if shape.index not in self.fitting:
            strategy = Strategy("EN", (), tuple(range(len(self.job.metal))), wide=True)
            self.go_on, self.squeezes = go_on, SQUEEZES
            try:
                self.fitting[shape.index] = self._lay(shape, strategy, {}, (True,)) is not None
            except OutOfTime:
                return

    def _lay(
        self,
        shape: Shape,
        strategy: Strategy,
        sheets: dict[int, Sheet],
        widths: tuple[bool, ...],
    ) -> tuple[Stock, Variant, float, float] | None:
        for wide in dict.fromkeys(widths):
            for index in strategy.metals:
                if not self.go_on():
                    raise OutOfTime
                if not self._may_hold(index, shape):
                    continue
                if index not in sheets:
                    sheets[index] = self.blank(index)
                sheet = sheets[index]
                if sheet.largest < shape.area * 0.999:
                    continue
                if (shape.index, wide) in sheet.failed:
                    continue
                found = self._best_place(sheet, shape, strategy, wide)
                if found is not None:
                    variant, x, y = found
                    sheet.take([(variant, x, y)])
                    self.fitting[shape.index] = True
                    return sheet.metal, variant, x, y
                sheet.failed.add((shape.index, wide))
        return None

    def _best_place(
        self, sheet: Sheet, shape: Shape, strategy: Strategy, wide: bool
    ) -> tuple[Variant, float, float] | None:
        fill, most = strategy.fill, PROPOSALS
        variants = shape.variants(sheet.metal, sheet.angles, wide=wide)
        looks: tuple[Look, ...] = (QUICK, CLOSE)
        if strategy.swift and not wide:
            looks, most = (QUICK,), SWIFT_PROPOSALS
        for face in (sheet, sheet.tight):
            if face is None or face.grid is None:
                continue
            own = [v for v in variants if may_fit(v, face) and (face is sheet or len(v.runs))]
            if strategy.swift and not wide:  # the closer look comes when all else lies
                own = own[:SWIFT_VARIANTS]
            overlaps = self._overlaps(face, own)
            for look in looks:
                proposals = self._proposals(sheet, face, own, overlaps, fill, look)
                best = self._best_settled(sheet, face, proposals, fill, most)
                if best is not None:
                    return best[1:]
            best = None
            if wide and strategy.squeeze:
                best = self._squeeze_in(sheet, face, own, fill)
            if best is not None:
                return best[1:]
        return None

    def _may_hold(self, index: int, shape: Shape) -> bool:
        """Whether a piece is small enough for a metal, by area and longest side of its box."""
        outline = self.job.metal[index].outline
        x0, y0, x1, y1 = outline.bounds
        return (
            outline.area >= shape.area * 0.999
            and math.hypot(x1 - x0, y1 - y0) >= shape.width * 0.999
        )

    def _best_settled(
        self,
        sheet: Sheet,
        face: Face,
        proposals: Sequence[tuple[float, Variant, float, float]],
        fill: str,
        most: int,
    ) -> tuple[float, Variant, float, float] | None:
        """The cheapest of the first few proposals that turn out to be places."""
        best: tuple[float, Variant, float, float] | None = None
        settled = 0
        for _, variant, x, y in proposals:
            spots = self._spots(sheet, face, variant, x, y, fill)
            if not spots:
                continue
            settled += 1
            for spot in spots:
                figure = self._figure(sheet, variant, *spot, fill)
                if best is None or figure < best[0] - 1e-12:
                    best = (figure, variant, *spot)
            if settled >= most:
                break
        return best

    def _spots(
        self, sheet: Sheet, face: Face, variant: Variant, x: float, y: float, fill: str
    ) -> list[tuple[float, float]]:
        """Where a piece comes to rest from a rough place, by one way or several; empty if nowhere.

        From a place that keeps the gap it is pressed on, to where it shares lines and lies on
        edges, if the rules let it.
        """
        start = self._settle(face, variant, x, y, fill)
        if start is None:
            return []
        if face is not sheet:
            return [start] if sheet.allows(variant, *start) else []
        found = [start]
        if sheet.tight is not None and len(variant.runs):
            for ways in (fill, fill[0], fill[1]):
                spot = self._settle(sheet.tight, variant, *start, ways)
                if spot is not None and spot != start and sheet.allows(variant, *spot):
                    found.append(spot)
                    break
        return found

    def _overlaps(
        self, face: Face, variants: Sequence[Variant]
    ) -> list[npt.NDArray[np.float32] | None]:
        """For each variant the raster's overlap at every cell; None where it is too large."""
        assert face.grid is not None
        found = []
        for variant in variants:
            if not self.go_on():
                raise OutOfTime
            found.append(face.grid.overlap(variant, self.kernels))
        return found

    def _proposals(
        self,
        sheet: Sheet,
        face: Face,
        variants: Sequence[Variant],
        overlaps: Sequence[npt.NDArray[np.float32] | None],
        fill: str,
        look: Look,
    ) -> list[tuple[float, Variant, float, float]]:
        """Rough places, the most promising first."""
        found: list[tuple[float, int, float, float]] = []
        assert face.grid is not None
        for number, (variant, overlap) in enumerate(zip(variants, overlaps, strict=True)):
            if overlap is None:
                continue
            found.extend(
                (self._rough(sheet, variant, x, y, fill), number, x, y)
                for x, y in free_cells(face.grid, variant, overlap < 0.5, fill, look)
            )
            found.extend(
                (self._rough(sheet, variant, x, y, fill), number, x, y)
                for x, y in corner_places(face, variant, overlap, fill)
            )
        found.sort()
        return [(figure, variants[number], x, y) for figure, number, x, y in found[: look.most]]

    def _rough(self, sheet: Sheet, variant: Variant, x: float, y: float, fill: str) -> float:
        x0, y0, x1, y1 = variant.bounds
        box = (x0 + x, y0 + y, x1 + x, y1 + y)
        return extent(box, sheet.bounds, fill[0]) + 0.15 * extent(box, sheet.bounds, fill[1])

    def _figure(self, sheet: Sheet, variant: Variant, x: float, y: float, fill: str) -> float:
        """Roughly what this place costs: metal opened up, less sawing saved."""
        x0, y0, x1, y1 = variant.bounds
        box = (x0 + x, y0 + y, x1 + x, y1 + y)
        first = extent(box, sheet.bounds, fill[0])
        second = extent(box, sheet.bounds, fill[1])
        wide, high = sheet.bounds[2] - sheet.bounds[0], sheet.bounds[3] - sheet.bounds[1]
        across = high if fill[0] in "EW" else wide
        price = max(sheet.metal.price_per_mm2, 1e-7)
        opened = max(0.0, first - sheet.reach.get(fill[0], 0.0))
        figure = price * (across * opened + 0.3 * across * first + 0.05 * across * second)
        edges = moved(variant.edges, x, y)
        flush = flush_length(edges, sheet.edges)
        if sheet.tight is not None:  # a gap beside a straight edge saves next to nothing
            flush = NEXT_TO_NOTHING * flush + flush_length(edges, sheet.tight.edges)
        saved = self.job.saw_cost_per_mm if self.job.goal == "plan" else 0.0
        return figure - (saved + 0.5 * price * math.sqrt(across)) * flush

    def _settle(
        self, face: Face, variant: Variant, x: float, y: float, fill: str
    ) -> tuple[float, float] | None:
        """Push a piece against the fill directions until it rests; None where it does not fit."""
        if not face.fits(variant, x, y):
            return None
        start = (x, y)
        moving, rim = variant.edges, face.edges
        for step in range(SETTLE_STEPS):
            dx, dy = AXES[fill[step % len(fill)]]
            far = slide(moved(moving, x, y), rim, (-dx, -dy))
            if not math.isfinite(far) or (far < 1e-7 and step > 1):
                break
            x, y = x - dx * far, y - dy * far
        x, y = round(x, 6), round(y, 6)
        if not face.fits(variant, x, y):
            x, y = round(start[0], 6), round(start[1], 6)
            if not face.fits(variant, x, y):
                return None
        return x, y

    def _squeeze_in(
        self, sheet: Sheet, face: Face, variants: Sequence[Variant], fill: str
    ) -> tuple[float, Variant, float, float] | None:
        """The last resort for a tight fit: all places there are, by exact geometry."""
        best: tuple[float, Variant, float, float] | None = None
        for variant in variants:
            if not self.go_on():
                raise OutOfTime
            size = len(face.edges) * len(variant.edges)
            if size > self.squeezes:
                continue
            self.squeezes -= size
            for x, y in exact_places(face.free, face.edges, variant):
                for spot in self._spots(sheet, face, variant, x, y, fill):
                    figure = self._figure(sheet, variant, *spot, fill)
                    if best is None or figure < best[0]:
                        best = (figure, variant, *spot)
            if best is not None:
                return best
        return best
