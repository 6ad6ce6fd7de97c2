"""What came out of parting a plan's stock pieces, as far as no later entry says otherwise."""

from __future__ import annotations

from django.db.models import QuerySet
from shapely import wkt
from shapely.geometry import Polygon

from studio.models import CutPlan, PartEntry


def entries_of(plan: CutPlan) -> QuerySet[PartEntry]:
    """The entries that count, with their stock pieces, in order of the parts' numbers."""
    return (
        PartEntry.objects.filter(plan_stock__plan=plan, corrected_by=None)
        .select_related("made__metal", "plan_stock__stock_piece", "share__project", "by")
        .order_by("plan_stock__stock_piece__code", "part", "pk")
    )


def lies_at(entry: PartEntry) -> Polygon:
    """The part as it came out, where it lay in the stock piece (mm)."""
    outline = wkt.loads(entry.outline)
    assert isinstance(outline, Polygon)
    return outline
