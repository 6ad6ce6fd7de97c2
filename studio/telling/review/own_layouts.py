"""What did students' own layouts save, or cost, against what the server made of the same pieces?

Told of layouts that a plan has taken, where the server's is known: it was kept when the layout was
handed in. Metal used up (pieces, kerf and scrap of the pieces by themselves) and what it costs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse

from studio.models import PlanProject

from .counted import NONE
from .entries import Entry

Key = tuple[int, int]
"""Primary keys of the plan that took it, and of its project: those of an `Entry`."""


@dataclass(frozen=True, slots=True)
class OwnLayout:
    """One layout against the server's, or several added up, with the key (0, 0). Areas in mm²,
    money as it was then."""

    key: Key
    label: str
    note: str
    url: str
    own_mm2: float
    server_mm2: float
    own_price: Decimal
    server_price: Decimal

    @property
    def saved_mm2(self) -> float:
        """Below nothing where it cost more metal."""
        return self.server_mm2 - self.own_mm2

    @property
    def saved_price(self) -> Decimal:
        return self.server_price - self.own_price

    @property
    def more_mm2(self) -> float:
        return -self.saved_mm2

    @property
    def more_price(self) -> Decimal:
        return -self.saved_price


def own_layouts_of(entries: Iterable[Entry]) -> list[OwnLayout]:
    """One for each of these entries whose plan took a layout that can be compared; who saved most
    stands first."""
    seen = {(entry.plan_pk, entry.project.pk) for entry in entries}
    shares = [one for one in _shares(seen) if (one.plan_id, one.project_id) in seen]
    found = [_row(share) for share in shares if told_alike(share)]
    return sorted(found, key=lambda row: (-row.saved_mm2, row.label.casefold()))


def _shares(seen: Collection[Key]) -> Any:
    return (
        PlanProject.objects.filter(plan__in={plan for plan, _ in seen}, layout__isnull=False)
        .exclude(layout__beside={})
        .select_related("project__brief", "project__seat__student", "layout__owner")
        .defer("layout__job", "layout__placements", "layout__past", "layout__future")
        .order_by("pk")
    )


def told_alike(share: PlanProject) -> bool:
    """Whether both were told by the same rule (`studio/steps/layouts/outcome.py`), and whole: looks
    at handed-in layouts once took the price out of their figures."""
    layout = share.layout
    assert layout is not None
    own, server = layout.figures, layout.beside
    return own.get("rule") == server.get("rule") and "metal_price" in own


def _row(share: PlanProject) -> OwnLayout:
    layout, project = share.layout, share.project
    assert layout is not None
    nudged = f", nudged by {layout.owner}" if layout.owner.is_teacher else ""
    return OwnLayout(
        (share.plan_id, share.project_id),
        str(project.seat.student),
        f"{project.title or project.brief.title}{nudged}",
        reverse("project", args=[project.pk]),
        float(layout.figures["consumed_mm2"]),
        float(layout.beside["consumed_mm2"]),
        Decimal(layout.figures["metal_price"]),
        Decimal(layout.beside["metal_price"]),
    )


def own_together(rows: Sequence[OwnLayout]) -> OwnLayout:
    """All added up."""
    return OwnLayout(
        (0, 0),
        "Together",
        "",
        "",
        sum(row.own_mm2 for row in rows),
        sum(row.server_mm2 for row in rows),
        sum((row.own_price for row in rows), NONE),
        sum((row.server_price for row in rows), NONE),
    )
