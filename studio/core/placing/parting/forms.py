"""Sizes of blanks that hold a group: for each height the least width that was found."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import box

from studio.core.cutting.job import Job, Parting, Placement, Stock
from studio.core.placing.laying.construct import Builder, Strategy
from studio.core.verifying import faults

from .groups import Group

DRAWING_IN = 12_000  # evaluations of the compiled search for one form
LANE = 1  # the bold one


@dataclass(frozen=True)
class Form:
    """A blank's size and how the group lies in it, from its lower left corner; mm."""

    wide: float
    high: float
    placements: tuple[Placement, ...]
    asked: float  # the height that it was sought for


class Former:
    """Finds forms for one group in one kind of frame."""

    def __init__(
        self, job: Job, parting: Parting, group: Group, stock: Stock, turn_deg: float
    ) -> None:
        self.group = group
        self.margin = parting.margin_mm
        keeps = max(parting.margin_mm, job.kerf_mm)
        self.out = keeps - parting.margin_mm  # how far the strips reach beyond the blanks
        orders = group.orders(turn_deg)
        grain = None if stock.grain_deg is None else (stock.grain_deg - turn_deg) % 180.0
        spans = [_span(w.outline.bounds) for w in orders]
        self.longest = sum(s * w.count for s, w in zip(spans, orders, strict=True))
        self.longest = 1.1 * self.longest + 2.0 * keeps + job.gap_mm * group.count + 1.0
        self.plain = replace(
            job,
            metal=(),
            pieces=orders,
            goal="plan",
            edge_margin_mm=keeps,
            fixed=(),
            start=(),
            parting=None,
        )
        self.grain = grain
        self.forms: list[Form] = []
        self.tried: dict[float, int] = {}
        self.builder: Builder | None = None

    @property
    def area(self) -> float:
        return self.group.area

    def heights(self, spans: Sequence[float], most: int) -> list[float]:
        """Heights worth trying, those first that even parts of `spans` give."""
        need = self.area * 1.6 + self.margin * self.margin
        middle = math.sqrt(need)
        found: dict[float, float] = {}
        for span in spans:
            for share in range(1, 9):
                high = round(span / share, 3)
                away = abs(math.log(high / middle)) if high > 0.0 else math.inf
                if away < 1.2 and all(abs(high - h) > 0.5 for h in found):
                    found[high] = away
        return sorted(found, key=lambda h: found[h])[:most]

    def lay(
        self, high: float, most_wide: float, go_on: Callable[[], bool]
    ) -> tuple[Job, Builder, list[Placement]] | None:
        """The group laid from the left in a strip of a height; None where it does not fit."""
        far = min(self.longest, most_wide + self.out)
        strip = Stock(
            "strip",
            box(-self.out, -self.out, far, high + self.out),
            price_per_mm2=3e-4,
            clean_edges=False,
            grain_deg=self.grain,
        )
        job = replace(self.plain, metal=(strip,))
        builder = Builder(job)
        copies = builder.copies
        order = tuple(sorted(range(len(copies)), key=lambda i: (-copies[i][0].covered, i)))
        placed, left, whole = builder.build(Strategy("EN", order, (0,)), go_on)
        if left or not whole:
            return None
        return job, builder, placed

    def seek(
        self,
        high: float,
        most_wide: float,
        go_on: Callable[[], bool],
        *,
        seed: int = 1,
        compiled: bool = False,
        effort: int = DRAWING_IN,
    ) -> Form | None:
        """A form of at most this height; None where none was found, or the clock ended it."""
        laid = self.lay(high, most_wide, go_on)
        self.tried[high] = self.tried.get(high, 0) + 1
        if laid is None:
            return None
        job, builder, placed = laid
        best = self._form(job, placed, high)
        if compiled:
            drawn = self._form(job, _drawn_in(job, builder, placed, seed, effort), high)
            if drawn is not None and (
                best is None or drawn.wide * drawn.high < best.wide * best.high
            ):
                best = drawn
        if best is not None:
            self.keep(best)
        return best

    def keep(self, form: Form) -> None:
        """Note a form, and forget those that need more both ways."""
        if any(f.wide <= form.wide and f.high <= form.high for f in self.forms):
            return
        self.forms = [f for f in self.forms if not (form.wide <= f.wide and form.high <= f.high)]
        self.forms.append(form)

    def _form(self, job: Job, placed: Sequence[Placement], asked: float) -> Form | None:
        if not placed or faults(job, placed):
            return None
        bounds = np.array([p.lay(job.wanted_by_id[p.piece].outline).bounds for p in placed])
        x0, y0 = (float(v) - self.margin for v in bounds[:, :2].min(axis=0))
        x1, y1 = (float(v) + self.margin for v in bounds[:, 2:].max(axis=0))
        moved = tuple(replace(p, x_mm=p.x_mm - x0, y_mm=p.y_mm - y0) for p in placed)
        return Form(x1 - x0, y1 - y0, moved, asked)


def _drawn_in(
    job: Job, builder: Builder, placed: Sequence[Placement], seed: int, effort: int
) -> list[Placement]:
    from studio.core.placing.separating.improve import Improver
    from studio.core.placing.separating.separation import explore

    improver = Improver(job, builder.shapes, placed, (0,), "EN")
    stop = np.zeros(1, dtype=np.int64)
    lane = improver.lanes[LANE]
    explore(
        improver.stock.kinds, improver.plane.region, lane, stop, seed % (2**32 - 5), effort, LANE
    )
    return improver.placements(LANE)


def _span(bounds: tuple[float, float, float, float]) -> float:
    x0, y0, x1, y1 = bounds
    return math.hypot(x1 - x0, y1 - y0)
