"""A project's layout on other pages: its picture, its figures beside the server's, where the
teacher's remark points, and whether it still holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext

from classroom.figures.rounding import percent_of
from classroom.models import School
from studio.core.cutting import Plan
from studio.core.cutting.groups import group_of
from studio.core.picturing.plan import MetalPicture
from studio.core.verifying import Judgement, measurable
from studio.models import Layout, Pattern
from studio.running.layouts.judging import look_at_metal
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.layouts.judged import what_is_wrong
from studio.steps.layouts.outcome import (
    Worth,
    beside_of,
    kept_share,
    waste_share,
    worth_on_the_rack,
)
from studio.steps.layouts.standing import what_no_longer_holds
from studio.steps.layouts.tries import name_of
from studio.steps.plans.asking import piece_id
from studio.views.plans.figures import drawn

from .marks import Spot, marks_on


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure of a layout, and the server's where it is known, worded by `template`; `better`
    is "own", "server" or "" where they are as good as equal."""

    label: str
    template: str
    own: Any
    server: Any
    better: str


@dataclass(frozen=True, slots=True)
class OnMetal:
    """A picture, and what of the stock piece lies at its origin: x, and the y that is uppermost."""

    one: MetalPicture
    corner: str


@dataclass(frozen=True, slots=True)
class LayoutShown:
    """Everything that `studio/layouts/shown.html` shows of one layout."""

    layout: Layout
    name: str
    url: str
    pictures: tuple[OnMetal, ...]
    figures: tuple[Compared, ...]
    has_server: bool
    wrong: str
    in_the_tray: int
    changed: tuple[str, ...]
    mine: frozenset[str]
    marks: Mapping[str, Spot]

    @property
    def is_fit(self) -> bool:
        return not self.wrong and not self.in_the_tray


def shown_layout(
    layout: Layout, pattern: Pattern, school: School, *, mark: Mapping[str, Any] | None = None
) -> LayoutShown:
    """Of a layout of this pattern's project; `mark` is the pattern's. Raises Busy."""
    job = layout.asked
    judged, _ = look_at_metal(layout, job, layout.laid)
    lying, by_hand = tuple(measurable(job, layout.laid)), job.hands is not None
    plan = Plan(lying, (), judged.measures, judged.offcuts, 0, 0.0, 0, by_hand=by_hand)
    of = layout.pattern or pattern
    pieces = {piece_id(of, piece): piece for piece in of.drawing.pieces}
    pictures = drawn(job, plan, lambda: pieces, frame_depth_mm(school))
    own = worth_on_the_rack(job, lying, school, (plan.measures, plan.offcuts))
    server = beside_of(layout, school)
    return LayoutShown(
        layout=layout,
        name=name_of(layout),
        url=reverse("layout", args=[layout.pk]),
        pictures=tuple(OnMetal(one, _corner_of(layout, one.code)) for one in pictures),
        figures=compared(own, server),
        has_server=bool(server),
        wrong=what_is_wrong(judged.faults),
        in_the_tray=_in_the_tray(layout, judged),
        changed=tuple(what_no_longer_holds(layout, pattern)),
        mine=frozenset([group_of(pattern.project_id)]),
        marks=marks_on(layout, mark),
    )


SHARE = "studio/layouts/figures/percent.html"


def compared(own: Worth, server: Mapping[str, Any]) -> tuple[Compared, ...]:
    """The figures that tell which of two layouts is better, each with the better one named."""
    rows = (
        (gettext("Metal used up"), "studio/plans/figures/mm2.html", _area("consumed_mm2"), -1),
        (gettext("Largest strip left"), "studio/plans/figures/size.html", _strip, 1),
        (gettext("Goes back to the rack"), SHARE, kept_share, 1),
        (
            gettext("Waste of the metal used up"),
            SHARE,
            waste_share,
            -1,
        ),
        (gettext("To saw"), "studio/layouts/figures/run.html", _area("saw_line_mm"), -1),
        (gettext("Metal costs"), "studio/plans/figures/money.html", _price, -1),
    )
    found = []
    for label, template, value, good in rows:
        mine, theirs = value(own), value(server) if server else None
        # Of two that are told by the same figure neither is called better.
        is_share = template == SHARE
        one, other = (_as_told(mine), _as_told(theirs)) if is_share else (mine, theirs)
        found.append(Compared(label, template, mine, theirs, _better(one, other, good)))
    return tuple(found)


def _as_told(share: Any) -> float | None:
    return None if share is None else float(percent_of(share))


def _area(name: str) -> Any:
    return lambda worth: float(worth.get(name, 0.0))


def _strip(worth: Mapping[str, Any]) -> tuple[float, float]:
    one, other = worth.get("largest_rectangle_mm", (0.0, 0.0))
    return max(one, other), min(one, other)


def _price(worth: Mapping[str, Any]) -> Decimal:
    return Decimal(worth.get("metal_price", "0"))


def _better(own: Any, server: Any, good: int) -> str:
    if own is None or server is None:
        return ""
    one, other = (
        float(side[0] * side[1]) if isinstance(side, tuple) else float(side)
        for side in (own, server)
    )
    if abs(one - other) <= 0.005 * max(abs(one), abs(other)):
        return ""
    return "own" if (one - other) * good > 0 else "server"


def _in_the_tray(layout: Layout, judged: Judgement) -> int:
    if not judged.missing:
        return 0
    return layout.asked.copies - len({(p.piece, p.copy) for p in layout.laid})


def _corner_of(layout: Layout, code: str) -> str:
    x0, _, _, y1 = layout.asked.stock_by_id[code].outline.bounds
    return f"{x0:.4f} {y1:.4f}"
