"""On which stock pieces does a layout lie? Those of the rack that the brief, or the plan, allows.

A layout uses a few side by side, each whole or an upright rectangle of it. What is laid by keeps a
stock piece's own millimetres, so that pieces stay where they lie when the rectangle grows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _

from classroom.refusals import Refused
from inventory.models import Metal, StockPiece
from studio.core.laying_out.metal import LEAST_SIDE_MM, Rectangle, cut_to
from studio.models import Layout, Pattern, Project
from studio.steps.plans.asking import as_metal, choose_stock, wanted_of, weighed_price
from studio.steps.plans.grain import grains_of
from studio.steps.plans.placing_settings import PlacingRules, rules_for
from studio.steps.plans.taking_layouts import RECTANGLES as RECTANGLES

MOST_OFFERED: Final = 60
MOST_CHOSEN: Final = 6
FURTHEST_MM: Final = 10_000.0


@dataclass(frozen=True, slots=True)
class Chosen:
    """A stock piece to lay out on, whole or a rectangle of it."""

    code: str
    rectangle: Rectangle | None = None


def rules_of(layout: Layout) -> PlacingRules:
    return rules_for(layout.course.school, layout.course)


def metals_for(project: Project) -> list[Metal]:
    """The project's metal where the brief allows it, else whatever the brief allows."""
    allowed = list(project.brief.metals.all())
    own = [metal for metal in allowed if metal.pk == project.metal_id]
    return own or allowed


def offered(layout: Layout) -> list[StockPiece]:
    """What the rack has for it, smallest offcuts first; then sheets. Bounded."""
    if layout.plan is not None and layout.plan.parent_id is not None:
        own = StockPiece.objects.filter(reservations__plan=layout.plan, reservations__live=True)
        return list(own.select_related("metal").order_by("pk"))
    if layout.plan is not None:
        metals = [layout.plan.metal]
    else:
        assert layout.project is not None
        metals = metals_for(layout.project)
    rack = StockPiece.objects.on_the_rack().filter(school=layout.course.school, metal__in=metals)
    return list(rack.select_related("metal").order_by("kind", "area_mm2", "pk")[:MOST_OFFERED])


def used_by(layout: Layout) -> list[Chosen]:
    """The stock pieces that it lies on now, in order."""
    kept = layout.figures.get(RECTANGLES, {})
    return [
        Chosen(entry["id"], tuple(kept[entry["id"]]) if entry["id"] in kept else None)
        for entry in layout.job["metal"]
    ]


def first_for(project: Project, pattern: Pattern, rules: PlacingRules) -> StockPiece:
    """The one that the server would use first: the smallest that may hold everything.

    Raises Refused where the rack has nothing of what the brief allows.
    """
    wanted = wanted_of([pattern])
    apart = rules.apart([project.brief])
    boxes = sum(
        one.count * (one.longer_mm + apart.gap_mm) * (one.shorter_mm + apart.gap_mm)
        for one in wanted
    )
    grained = rules.sheet_grain if project.brief.grain_deg is not None else ""
    refusal: Refused | None = None
    for metal in metals_for(project):
        try:
            found = choose_stock(
                metal,
                wanted,
                gap_mm=apart.gap_mm,
                margin_mm=float(rules.edge_margin_mm),
                grain_rule=grained,
            )
        except Refused as none:
            refusal = refusal or none
            continue
        roomy = (piece for piece in found if float(piece.area_mm2) >= boxes)
        return next(roomy, found[-1])
    raise refusal or Refused(_("The brief allows no metal yet. Ask your teacher."))


def metal_entries(
    layout: Layout, chosen: Sequence[Chosen]
) -> tuple[list[dict[str, Any]], dict[str, list[float]]]:
    """The job's metal for these stock pieces, and which of them are cut to which rectangle.

    What the layout lies on already may be chosen again though it is reserved meanwhile. Raises
    Refused for what is not on the rack, for two metals at once, and for senseless rectangles.
    """
    if not 1 <= len(chosen) <= MOST_CHOSEN or len({one.code for one in chosen}) < len(chosen):
        raise Refused(
            _("Choose 1 to %(most)s stock pieces, each only once.") % {"most": MOST_CHOSEN}
        )
    known = {piece.code: piece for piece in offered(layout)}
    used = {one.code for one in used_by(layout)}
    missing = [one.code for one in chosen if one.code not in known]
    for piece in StockPiece.objects.filter(
        school=layout.course.school, code__in=[code for code in missing if code in used]
    ).select_related("metal"):
        known[piece.code] = piece
    if gone := [code for code in missing if code not in known]:
        raise Refused(
            _("%(code)s is not on the rack for this any more. Choose another.")
            % {"code": gone[0][:24]}
        )
    pieces = [known[one.code] for one in chosen]
    if len({piece.metal_id for piece in pieces}) > 1:
        raise Refused(_("All stock pieces of a layout are of one metal and thickness."))
    grains = grains_of(pieces, rules_of(layout).sheet_grain)
    entries, rectangles = [], {}
    for one, piece in zip(chosen, pieces, strict=True):
        entry = as_metal(piece, weighed_price(piece)) | {"grain_deg": grains[piece.pk]}
        if one.rectangle is not None:
            entry = _cut(entry, one.rectangle)
            rectangles[one.code] = list(one.rectangle)
        entries.append(entry)
    return entries, rectangles


def _cut(entry: Mapping[str, Any], rectangle: Rectangle) -> dict[str, Any]:
    x0, y0, x1, y1 = rectangle
    if not all(math.isfinite(value) and abs(value) <= FURTHEST_MM for value in rectangle):
        raise Refused(_("These numbers of the rectangle lie far off the metal."))
    if x1 - x0 < LEAST_SIDE_MM or y1 - y0 < LEAST_SIDE_MM:
        raise Refused(
            _(
                "A rectangle is at least %(least)s mm wide and high, and its right and upper side "
                "have the larger numbers."
            )
            % {"least": f"{LEAST_SIDE_MM:g}"}
        )
    cut = cut_to(entry, rectangle)
    if cut is None:
        raise Refused(
            _(
                "There is no metal in this rectangle. Its numbers count from the lower "
                "left of the stock piece."
            )
        )
    return cut


def codes(entries: Iterable[Mapping[str, Any]]) -> list[str]:
    return [entry["id"] for entry in entries]
