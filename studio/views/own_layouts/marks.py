"""Where a teacher's remark points on a layout, and the remark itself on the layout table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from classroom.figures.units import Units, format_length
from studio.models import Layout, Pattern

MARK_SHARE = 0.035  # of a stock piece's longer side

Spot = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Remark:
    """What a returned pattern's layout table says: who handed it back, with which words, and
    `where` they point. `spots` are drawn as on other pictures; `metal` and `at` (x and y in mm,
    y upwards) are for the script, "" where nothing is to be drawn."""

    title: str
    text: str
    where: str
    pattern_url: str
    spots: Mapping[str, Spot]
    metal: str = ""
    at: str = ""
    radius: str = ""


def remark_on(layout: Layout, pattern: Pattern | None, units: str) -> Remark | None:
    """Of the project's current version; None unless that was handed back and waits for its
    student. The mark is drawn on the try that counts, on which it was put."""
    if pattern is None or pattern.state != Pattern.State.RETURNED:
        return None
    by = pattern.reviewed_by
    title = (
        _("%(by)s handed this back") % {"by": by.display_name}
        if by
        else _("Your teacher handed this back")
    )
    mark = pattern.mark or {}
    spots = marks_on(layout, mark) if layout.chosen else {}
    there = reverse("pattern", args=[pattern.pk])
    if not spots:
        return Remark(title, pattern.remark, _elsewhere(mark), there if mark else "", {})
    ((metal, (_x, _y, radius)),) = spots.items()
    where = _("The ring on %(metal)s shows where: %(x)s from the left, %(y)s from below.") % {
        "metal": metal,
        "x": format_length(mark["x_mm"], Units(units)),
        "y": format_length(mark["y_mm"], Units(units)),
    }
    at = f"{mark['x_mm']:.2f} {mark['y_mm']:.2f}"
    return Remark(title, pattern.remark, where, "", spots, metal, at, radius)


def _elsewhere(mark: Mapping[str, Any]) -> str:
    match mark.get("on"):
        case "pattern":
            return _("It points at a place in the drawing of the pattern.")
        case "layout":
            said = _("It points at a place on %(metal)s, in the layout that was handed back.")
            return said % {"metal": mark.get("metal", "")}
    return ""


def marks_on(layout: Layout, mark: Mapping[str, Any] | None) -> dict[str, Spot]:
    """Where a mark is on the picture of its metal: x, y and radius as the picture has them."""
    if not mark or mark.get("on") != "layout":
        return {}
    stock = layout.asked.stock_by_id.get(str(mark.get("metal")))
    if stock is None:
        return {}
    x0, y0, x1, y1 = stock.outline.bounds
    radius = MARK_SHARE * max(x1 - x0, y1 - y0)
    return {stock.id: spot(mark["x_mm"] - x0, y1 - mark["y_mm"], radius)}


def spot(x: float, y: float, radius: float) -> Spot:
    """A mark's numbers as text, so that no language changes their decimal point."""
    return f"{x:.2f}", f"{y:.2f}", f"{radius:.2f}"
