"""A layout keeps what the judge measured last, and what it was before the last move.

`Layout.figures` holds the measures as plans write them (`measures_to_json`), with `price` (text),
`faults`, `missing` (counts) and the `version` that they are of; under `before` the same of the
state before. `rectangles` there belongs to the stock pieces (`stock`), `drilled` to the price.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from studio.core.cutting import Placement
from studio.core.cutting.formats import measures_to_json
from studio.core.verifying import Judgement
from studio.models import Layout

from .estimate import DRILLED, drilled_in, estimate
from .stock import RECTANGLES


def measured(layout: Layout, placements: Sequence[Placement], judged: Judgement) -> dict[str, Any]:
    """What is kept of a judgement of the layout as it is."""
    price: Decimal = estimate(layout, placements, judged)
    return measures_to_json(judged.measures) | {
        "price": str(price),
        "faults": len(judged.faults),
        "missing": layout.asked.copies - len({(p.piece, p.copy) for p in placements}),
        "version": layout.version,
    }


def keep(layout: Layout, figures: Mapping[str, Any]) -> dict[str, Any] | None:
    """Store them; answers with those of the state before the last move, None where unknown.

    Whoever changed the layout in between is not overwritten, nor what a layout was handed in with:
    reviews tell it as it was then.
    """
    stored = layout.figures
    if layout.is_handed_in:
        known: dict[str, Any] | None = stored.get("before")
        return known if stored.get("version") == layout.version else None
    if stored.get("version") == layout.version:
        found: dict[str, Any] | None = stored.get("before")
        if found is None or {name: stored.get(name) for name in figures} == dict(figures):
            return found
        before = found
    else:
        beside = ("before", RECTANGLES, DRILLED)
        before = {name: value for name, value in stored.items() if name not in beside}
    new = dict(figures) | {DRILLED: drilled_in(layout)}
    if before:
        new["before"] = before
    if RECTANGLES in stored:
        new[RECTANGLES] = stored[RECTANGLES]
    as_it_was = Layout.objects.filter(pk=layout.pk, version=layout.version, handed_in_at=None)
    as_it_was.update(figures=new)
    layout.figures = new
    return before or None
