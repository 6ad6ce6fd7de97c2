"""What belongs to trial layouts: the metals that they speak of, and what a try was made from."""

from __future__ import annotations

from collections.abc import Collection

from inventory.models import Metal
from studio.models import Layout, TrialLayout


def metals_of(pks: Collection[int]) -> dict[int, Metal]:
    return Metal.objects.in_bulk(list(pks))


def begun_from(layout: Layout) -> int | None:
    """The layout (pk) for which the server laid this one, where it did."""
    return (
        TrialLayout.objects.filter(made=layout)
        .exclude(layout=None)
        .values_list("layout_id", flat=True)
        .first()
    )
