"""Sizes of blanks that hold a group: for each height the least width that was found."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import box

from studio.core.cutting.job import Job, Parting, Placement, Stock
from studio.core.placing.laying.construct import Builder, Strategy
from studio.core.verifying import faults, measure

from .groups import Group, written

if TYPE_CHECKING:
    from studio.core.placing.separating.short_strips import Strips

PRICE = 1e-4  # any will do: forms are compared in mm²
WIDENED = 3  # forms of a group that are widened in one round
CONDENSING = 16_000  # evaluations of the compiled search for one form


@dataclass(frozen=True)
class Form:
    """A blank's size and how the group lies in it, from its lower left corner; mm."""

    wide: float
    high: float
    placements: tuple[Placement, ...]
    need: float  # what it uses up, as money counts it: metal less what goes back; mm²

    @property
    def back(self) -> float:
        """What goes back to the rack out of it, as its worth counts it, in mm²."""
        return self.wide * self.high - self.need


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
        self.widened: list[Form] = []
        self.tried: dict[float, int] = {}
        self.strips: Strips | None = None

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

    def _laid(
        self, high: float, most_wide: float, go_on: Callable[[], bool]
    ) -> list[Placement] | None:
        """The group laid from the left in a strip of a height; None where it does not fit."""
        job = replace(self.plain, metal=(self._strip(high, min(self.longest, most_wide)),))
        builder = Builder(job)
        copies = builder.copies
        order = tuple(sorted(range(len(copies)), key=lambda i: (-copies[i][0].covered, i)))
        strategy = Strategy("EN", order, (0,), squeeze=False)
        placed, left, whole = builder.build(strategy, go_on)
        return placed if whole and not left else None

    def _strip(self, high: float, wide: float, out: float | None = None) -> Stock:
        """A blank of cut edges only, in the judge's rules: a little larger where the margin is
        less than the kerf, which any edge that is not clean asks for."""
        more = self.out if out is None else out
        return Stock(
            "strip",
            box(-more, -more, wide + more, high + more),
            price_per_mm2=PRICE,
            clean_edges=False,
            grain_deg=self.grain,
        )

    def seek(
        self,
        high: float,
        most_wide: float,
        go_on: Callable[[], bool],
        *,
        seed: int = 1,
        compiled: bool = False,
        effort: int = CONDENSING,
    ) -> Form | None:
        """A form of at most this height; None where none was found, or the clock ended it.

        Without the compiled search pieces are laid one after another.
        """
        self.tried[high] = self.tried.get(high, 0) + 1
        if compiled:
            placed = self._condensed(high, most_wide, go_on, seed, effort)
        else:
            placed = self._laid(high, most_wide, go_on)
        best = None if placed is None else self._form(placed)
        if best is not None:
            self.keep(best)
        return best

    def _condensed(
        self, high: float, most_wide: float, go_on: Callable[[], bool], seed: int, effort: int
    ) -> list[Placement] | None:
        from studio.core.placing.separating.short_strips import Strips

        inner, most = high - 2.0 * self.margin, most_wide - 2.0 * self.margin
        if inner <= 0.0 or most <= 0.0:
            return None
        if self.strips is None:
            self.strips = Strips(self.plain, self.grain, inner, most)
        return self.strips.condensed(inner, most, seed, effort, go_on)

    def keep(self, form: Form) -> None:
        """Note a form, and forget those that need more both ways."""
        if any(f.wide <= form.wide and f.high <= form.high for f in self.forms):
            return
        self.forms = [f for f in self.forms if not _serves(form, f)]
        self.forms.append(form)

    def _form(self, placed: Sequence[Placement]) -> Form | None:
        """The least blank round a layout, where the judge finds no fault with it."""
        bounds = np.array([p.lay(self.plain.wanted_by_id[p.piece].outline).bounds for p in placed])
        x0, y0 = (float(v) - self.margin for v in bounds[:, :2].min(axis=0))
        x1, y1 = (float(v) + self.margin for v in bounds[:, 2:].max(axis=0))
        strip = self._strip(y1 - y0, x1 - x0)
        moved = tuple(
            written(
                replace(p, x_mm=p.x_mm - x0, y_mm=p.y_mm - y0),
                self.plain.wanted_by_id[p.piece],
                strip,
            )
            for p in placed
        )
        if faults(replace(self.plain, metal=(strip,)), moved):
            return None
        return Form(x1 - x0, y1 - y0, moved, self._need(x1 - x0, y1 - y0, moved))

    def _need(self, wide: float, high: float, placed: Sequence[Placement]) -> float:
        strip = self._strip(high, wide, out=0.0)
        figures, _ = measure(replace(self.plain, metal=(strip,), saw_cost_per_mm=0.0), placed)
        return figures.cost / strip.price_per_mm2

    def widen(self, most_wide: float, most_high: float, go_on: Callable[[], bool]) -> None:
        """Larger blanks round the best forms, where what is more goes back to the rack together
        with the hollows between the pieces: that may use up less metal than a close fit."""
        more = self.plain.offcut_min_width_mm
        best = sorted((f for f in self.forms if f not in self.widened), key=lambda f: f.need)
        for form in best[:WIDENED]:
            self.widened.append(form)
            for right, up in ((1.0, 0.0), (0.0, 1.0), (1.5, 0.0), (0.0, 1.5), (1.0, 1.0)):
                wide, high = form.wide + right * more, form.high + up * more
                if not go_on():
                    return
                if wide <= most_wide and high <= most_high:
                    need = self._need(wide, high, form.placements)
                    if need < form.need - 1.0:
                        self.keep(Form(wide, high, form.placements, need))


def _serves(one: Form, other: Form) -> bool:
    """Whether one form does for all that another does, and uses up no more."""
    return one.wide <= other.wide and one.high <= other.high and one.need <= other.need


def _span(bounds: tuple[float, float, float, float]) -> float:
    x0, y0, x1, y1 = bounds
    return math.hypot(x1 - x0, y1 - y0)
