"""What did each project take from the metal that was handed out for it?

One entry for each project on a cut plan whose metal has been handed out. Areas are the quote's
(as used where the plan is closed, else as planned); what belongs to the plan as a whole is shared
by piece area, the way the money is, and adds up exactly. Queries are constant in number.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KeyTransform
from django.utils import timezone

from classroom.figures.rounding import rest_of
from inventory.models import Metal
from studio.core.pricing.shares import share_to_the_cent
from studio.models import CutPlan, Project, Quote, Return
from studio.steps.rack.returned_areas import Resized, corrected, grown_g, resized_offcuts

from .counted import HANDED_OUT, NONE, quotes_that_count
from .taken_by_parting import taken_by_parting

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Entry:
    """One project's share of one plan. Areas in mm², money in the school's currency."""

    project: Project
    plan_pk: int
    metal: Metal
    issued_on: dt.date
    settled: bool  # the plan is closed and the areas are what was really used
    quote: Quote
    pieces_mm2: Decimal
    offcuts_mm2: Decimal
    scrap_mm2: Decimal
    kerf_mm2: Decimal
    unexplained_mm2: Decimal
    metal_money: Decimal
    total: Decimal
    allowance: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    """Entries added up. Areas in mm², masses in g."""

    count: int
    pieces_mm2: Decimal
    offcuts_mm2: Decimal
    scrap_mm2: Decimal
    kerf_mm2: Decimal
    issued_g: float
    pieces_g: float
    offcuts_g: float
    scrap_g: float
    kerf_g: float
    metal_money: Decimal
    total: Decimal
    allowance: Decimal
    unexplained_mm2: Decimal = NONE
    """Below nothing where offcuts were corrected to more than was left for them."""

    @property
    def issued_mm2(self) -> Decimal:
        parts = self.pieces_mm2 + self.offcuts_mm2 + self.scrap_mm2 + self.kerf_mm2
        return parts + self.unexplained_mm2

    @property
    def waste_mm2(self) -> Decimal:
        """Saw cuts and scrap: what neither became a piece nor goes back to the rack."""
        return self.scrap_mm2 + self.kerf_mm2

    @property
    def waste_g(self) -> float:
        return self.scrap_g + self.kerf_g

    @property
    def used_g(self) -> float:
        """What does not come back to the rack."""
        return self.pieces_g + self.waste_g

    @property
    def pieces_share(self) -> float | None:
        """Pieces as a share (0 to 1) of the mass that was used up, pieces and waste."""
        return self.pieces_g / self.used_g if self.used_g else None

    @property
    def waste_share(self) -> float | None:
        """Waste as the rest of that share, in whole percent as both are told."""
        share = self.pieces_share
        return None if share is None else rest_of(share)

    @property
    def consumables(self) -> Decimal:
        return self.total - self.metal_money

    @property
    def left(self) -> Decimal:
        """Allowance less cost; negative when it cost more."""
        return self.allowance - self.total

    @property
    def over(self) -> Decimal:
        return max(NONE, -self.left)


def totals(entries: Iterable[Entry]) -> Totals:
    """All added up; a project's allowance counts once, however many plans it was on."""
    rows = list(entries)
    grams = dict.fromkeys(("pieces", "offcuts", "scrap", "kerf", "unexplained"), 0.0)
    for row in rows:
        for name in grams:
            grams[name] += grown_g(row.metal, float(getattr(row, f"{name}_mm2")))
    allowances = {row.project.pk: row.allowance for row in rows}
    return Totals(
        count=len(allowances),
        pieces_mm2=sum((row.pieces_mm2 for row in rows), NONE),
        offcuts_mm2=sum((row.offcuts_mm2 for row in rows), NONE),
        scrap_mm2=sum((row.scrap_mm2 for row in rows), NONE),
        kerf_mm2=sum((row.kerf_mm2 for row in rows), NONE),
        unexplained_mm2=sum((row.unexplained_mm2 for row in rows), NONE),
        issued_g=sum(grams.values()),
        pieces_g=grams["pieces"],
        offcuts_g=grams["offcuts"],
        scrap_g=grams["scrap"],
        kerf_g=grams["kerf"],
        metal_money=sum((row.metal_money for row in rows), NONE),
        total=sum((row.total for row in rows), NONE),
        allowance=sum(allowances.values(), NONE),
    )


def entries_of(plans: QuerySet[CutPlan], projects: QuerySet[Project]) -> list[Entry]:
    """Entries of these plans as far as their metal is out; only of projects that may be seen.

    What a plan leaves is shared by all its projects, seen or not.
    """
    out = plans.filter(state__in=HANDED_OUT).order_by()
    quotes = _quotes(out)
    measures = _measures(out)
    balances = _balances(out)
    seen = set(projects.filter(plan_shares__plan__in=out.values("pk")).values_list("pk", flat=True))
    together: dict[int, list[Quote]] = {}
    for quote in quotes:
        # What was added to metal at the bench lies, and comes back, with it.
        together.setdefault(quote.plan.adds_to_id or quote.plan_id, []).append(quote)
    parting = taken_by_parting({q.plan.parent_id for q in quotes if q.plan.parent_id is not None})
    found = []
    for plan_pk, rows in together.items():
        newest = max(quote.plan_id for quote in rows)  # what it lays is all that lies there
        taken = parting.get(plan_pk, NONE)
        found += _of_plan(rows, measures[newest], balances.get(plan_pk), taken)
    return [entry for entry in found if entry.project.pk in seen]


def _quotes(plans: QuerySet[CutPlan]) -> list[Quote]:
    """One quote for each project of each plan: as used where there is one, else as planned."""
    best: dict[tuple[int, int], Quote] = {}
    for quote in (
        quotes_that_count()
        .filter(plan__in=plans.values("pk"))
        .select_related("plan__metal", "project__brief__course", "project__seat__student")
        .defer("plan__job", "plan__answer", "rates")
        .prefetch_related("lines")
        .order_by("plan_id", "project_id")
    ):
        key = quote.plan_id, quote.project_id
        if key not in best or quote.kind == Quote.Kind.SETTLED:
            best[key] = quote
    return list(best.values())


def _measures(plans: QuerySet[CutPlan]) -> dict[int, dict[str, Any]]:
    """The engine's figures and the kerf of each plan, without the geometry."""
    rows = plans.annotate(
        figures=KeyTransform("measures", "answer"), kerf=KeyTransform("kerf_mm", "job")
    ).values_list("pk", "figures", "kerf")
    return {pk: {**(figures or {}), "kerf_mm": kerf or 0.0} for pk, figures, kerf in rows}


def _balances(plans: QuerySet[CutPlan]) -> dict[int, dict[str, Any]]:
    """Where the area went, of the plans that are closed, with sizes corrected since.

    `resized` is what was corrected of the offcuts.
    """
    rows = (
        Return.objects.filter(plan__in=plans.values("pk"))
        .annotate(area=KeyTransform("area_mm2", "balance"))
        .values_list("plan_id", "area")
    )
    found = {pk: area for pk, area in rows if area}
    resized = resized_offcuts(found)
    return {
        pk: {**corrected(area, resized.get(pk)), "resized": resized.get(pk, Resized())}
        for pk, area in found.items()
    }


def _of_plan(
    quotes: list[Quote],
    measures: dict[str, Any],
    balance: dict[str, Any] | None,
    by_parting: Decimal,
) -> list[Entry]:
    if balance is not None:
        offcuts, kerf = _area(balance["offcuts"]), _area(balance["kerf"])
    else:
        offcuts = _area(measures.get("kept_mm2", 0.0))
        kerf = _area(measures.get("saw_line_mm", 0.0) * measures["kerf_mm"])
    pieces = {str(quote.project_id): quote.piece_area_mm2 for quote in quotes}
    wastes = {str(quote.project_id): quote.waste_area_mm2 for quote in quotes}
    waste = sum(wastes.values(), NONE)
    resized: Resized = balance["resized"] if balance is not None else Resized()
    if resized.was_scrap:
        waste = max(NONE, waste - _area(resized.was_scrap))
        wastes = share_to_the_cent(waste, wastes if any(wastes.values()) else pieces)
    offcut_shares = share_to_the_cent(offcuts, pieces)
    more = _area(resized.grown - resized.was_scrap)  # than anything explains
    more_shares = share_to_the_cent(more, pieces)
    kerf_shares = share_to_the_cent(min(kerf, waste), wastes)
    parting_shares = share_to_the_cent(by_parting, pieces)
    found = []
    for quote in quotes:
        key = str(quote.project_id)
        own_kerf = min(kerf_shares[key], wastes[key])
        issued_at = quote.plan.issued_at
        assert issued_at is not None  # handed out means that it has a time
        found.append(
            Entry(
                project=quote.project,
                plan_pk=quote.plan_id,
                metal=quote.plan.metal,
                issued_on=timezone.localdate(issued_at),
                settled=quote.kind == Quote.Kind.SETTLED,
                quote=quote,
                pieces_mm2=quote.piece_area_mm2,
                offcuts_mm2=offcut_shares[key],
                scrap_mm2=wastes[key] - own_kerf + parting_shares[key],
                kerf_mm2=own_kerf,
                unexplained_mm2=-more_shares[key],
                metal_money=quote.metal_total,
                total=quote.total,
                allowance=quote.allowance,
            )
        )
    return found


def _area(value: float) -> Decimal:
    return Decimal(str(value)).quantize(HUNDREDTH)
