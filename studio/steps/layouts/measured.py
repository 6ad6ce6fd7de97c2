"""A layout keeps what the judge measured last, and what it was before the last move.

`Layout.figures` holds the measures as plans write them (`measures_to_json`), with `for_two_mm`
(`core/laying_out/beside.py`), `price` (text), `faults`, `missing` (counts), the `version` that they
are of and the `rule` by which they are told; under `before` the same of the state before.
`rectangles` there belongs to the stock pieces (`stock`), `holes` to the price. What was handed in
keeps the figures that it was handed in with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from studio.core.cutting import Placement
from studio.core.cutting.formats import measures_to_json
from studio.core.laying_out.beside import for_two_mm
from studio.core.verifying import Judgement, measurable
from studio.models import Layout

from .estimate import HOLES, estimate, holes_in
from .outcome import RULE, is_told_as_now
from .stock import RECTANGLES


def measured(layout: Layout, placements: Sequence[Placement], judged: Judgement) -> dict[str, Any]:
    """What is kept of a judgement of the layout as it is."""
    price: Decimal = estimate(layout, placements, judged)
    lying = measurable(layout.asked, placements)
    return measures_to_json(judged.measures) | {
        "for_two_mm": for_two_mm(layout.asked, lying, judged.measures, layout.parted),
        "price": str(price),
        "faults": len(judged.faults),
        "missing": layout.asked.copies - len({(p.piece, p.copy) for p in placements}),
        "version": layout.version,
        "rule": RULE,
    }


def keep(layout: Layout, figures: Mapping[str, Any]) -> dict[str, Any] | None:
    """Store them; answers with those of the state before the last move, None where unknown.

    Whoever changed the layout in between is not overwritten, and what was handed in keeps the
    figures that it was handed in with.
    """
    stored = layout.figures
    if stored.get("version") == layout.version:
        before = stored.get("before") or {}
    else:
        beside = ("before", RECTANGLES, HOLES)
        before = {name: value for name, value in stored.items() if name not in beside}
    # By another rule another figure is no change that anybody has made.
    before = before if is_told_as_now(before) else {}
    if layout.is_handed_in or _has(stored, figures):
        return before or None
    new = dict(figures) | {HOLES: dict(holes_in(layout))}
    if before:
        new["before"] = before
    if RECTANGLES in stored:
        new[RECTANGLES] = stored[RECTANGLES]
    same = Layout.objects.filter(pk=layout.pk, version=layout.version, handed_in_at=None)
    same.update(figures=new)
    layout.figures = new
    return before or None


def _has(stored: Mapping[str, Any], figures: Mapping[str, Any]) -> bool:
    return {name: stored.get(name) for name in figures} == dict(figures)
