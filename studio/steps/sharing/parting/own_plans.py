"""Blanks are given: every student whose metal is parted goes on with a plan of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from shapely.geometry import Polygon

from classroom.models import User, record
from inventory.models import StockPiece
from inventory.rack.edges import edges_from, left_on_offcut
from studio.core.cutting import Blank, plan_to_json
from studio.core.cutting.formats import job_to_json
from studio.core.cutting.groups import group_of
from studio.core.offcuts.own_blank import (
    OwnBlank,
    as_laid,
    no_longer_holds,
    own_job,
    own_placements,
)
from studio.models import CutPlan, PartEntry, PlanProject, PlanStock, Quote, QuoteLine

from .entries import entries_of, lies_at

State = CutPlan.State


@dataclass(frozen=True, slots=True)
class _Got:
    """A blank that is there: its stock piece, and how the parent's job knows it."""

    row: StockPiece
    own: OwnBlank


@transaction.atomic
def give_blanks(plan: CutPlan, *, acting: User) -> list[CutPlan]:
    """A plan of their own for every student all of whose blanks are there.

    Its metal is handed out already; it keeps the shared plan's rules, layout and prices. Once no
    student is left on the shared plan, that one is over. Called again it finds nothing to do.
    """
    held = CutPlan.objects.select_for_update(no_key=True).only("state").get(pk=plan.pk)
    if held.state != State.ISSUED or not plan.is_parted or plan.laid is None:
        return []
    shares = list(
        plan.shares.filter(live=True)
        .select_related("project__seat", "pattern")
        .order_by("project_id")
    )
    there = _blanks_there(plan)
    made = []
    for own in _by_student(shares).values():
        groups = [group_of(share.project_id) for share in own]
        blanks = [one for one in plan.laid.blanks if one.group in groups]
        if blanks and all((one.metal, one.part) in there for one in blanks):
            made.append(_own_plan(plan, own, [there[one.metal, one.part] for one in blanks]))
            names = ", ".join(str(share.project) for share in own)
            record(acting, "own-plan", made[-1], f"blanks of {names} out of {plan}")
    _over_when_empty(plan, acting)
    return made


def _by_student(shares: Sequence[PlanProject]) -> dict[int, list[PlanProject]]:
    found: dict[int, list[PlanProject]] = {}
    for share in shares:
        found.setdefault(share.project.seat_id, []).append(share)
    return found


def _blanks_there(plan: CutPlan) -> dict[tuple[str, int], _Got]:
    """The plan's blanks that exist, by stock piece and part: parted, or whole as they are."""
    assert plan.laid is not None
    cut = {one.metal for one in plan.laid.cuts}
    entries = {
        (entry.plan_stock.stock_piece.code, entry.part): entry
        for entry in entries_of(plan)
        if entry.made_id is not None
    }
    rows = {
        row.stock_piece.code: row.stock_piece
        for row in plan.reserved.filter(live=True).select_related("stock_piece")
    }
    found: dict[tuple[str, int], _Got] = {}
    for blank in plan.laid.blanks:
        key = blank.metal, blank.part
        if blank.metal not in cut and blank.metal in rows:
            found[key] = _whole(blank, rows[blank.metal])
        elif key in entries:
            found[key] = _parted(blank, entries[key])
    return found


def _whole(blank: Blank, row: StockPiece) -> _Got:
    edges = edges_from(row.clean_edges, row.rough_edges)
    own = OwnBlank(
        blank.metal, blank.group, row.code, row.polygon, (0.0, 0.0), edges.clean, edges.rough
    )
    return _Got(row, own)


def _parted(blank: Blank, entry: PartEntry) -> _Got:
    """A blank that came out of a cut; its cut edges count as rough on its plan."""
    row, stock = entry.made, entry.plan_stock.stock_piece
    assert row is not None
    outline, lay = row.polygon, lies_at(entry)
    assert isinstance(outline, Polygon)
    edges = left_on_offcut(
        stock.polygon, edges_from(stock.clean_edges, stock.rough_edges), lay, outline
    )
    x0, y0, *_ = lay.bounds
    own = OwnBlank(
        blank.metal, blank.group, row.code, outline, (-x0, -y0), edges.clean, edges.rough
    )
    return _Got(row, own)


def _own_plan(plan: CutPlan, shares: Sequence[PlanProject], got: Sequence[_Got]) -> CutPlan:
    """The student's plan, with the student's projects, metal and planned prices on it."""
    assert plan.laid is not None
    blanks = [one.own for one in got]
    groups = {group_of(share.project_id) for share in shares}
    job = own_job(plan.asked, groups, blanks)
    placements = own_placements(plan.asked, plan.laid, groups, blanks)
    own = CutPlan.objects.create(
        course=plan.course,
        metal=plan.metal,
        state=State.ISSUED,
        way=CutPlan.Way.ALONE,
        parent=plan,
        to_lay_anew=bool(no_longer_holds(job, placements)),
        job=job_to_json(job),
        answer=plan_to_json(as_laid(job, placements, plan.laid)),
        engine_version=plan.engine_version,
        seed=plan.seed,
        seconds=plan.seconds,
        created_by=plan.created_by,
        approved_by=plan.approved_by,
        approved_at=plan.approved_at,
        issued_by=plan.issued_by,
        issued_at=plan.issued_at,
    )
    _take_over(plan, own, shares, got)
    _copy_quotes(plan, own, [share.project_id for share in shares])
    return own


def _take_over(
    plan: CutPlan, own: CutPlan, shares: Sequence[PlanProject], got: Sequence[_Got]
) -> None:
    PlanProject.objects.filter(pk__in=[share.pk for share in shares]).update(live=False)
    PlanProject.objects.bulk_create(
        PlanProject(
            plan=own,
            project=share.project,
            pattern=share.pattern,
            layout_id=share.layout_id,
            layout_told=share.layout_told,
        )
        for share in shares
    )
    codes = [one.row.pk for one in got]
    plan.reserved.filter(stock_piece__in=codes).update(live=False)
    PlanStock.objects.bulk_create(PlanStock(plan=own, stock_piece=one.row) for one in got)


def _copy_quotes(plan: CutPlan, own: CutPlan, projects: Sequence[int]) -> None:
    """The frozen prices go along: what was charged for them stays charged on the shared plan."""
    planned = plan.quotes.filter(kind=Quote.Kind.PLANNED, project__in=projects)
    for quote in planned.prefetch_related("lines").order_by("project_id"):
        lines = list(quote.lines.all())
        copy = Quote.objects.create(
            plan=own,
            project_id=quote.project_id,
            kind=quote.kind,
            at=quote.at,
            metal_total=quote.metal_total,
            total=quote.total,
            allowance=quote.allowance,
            piece_area_mm2=quote.piece_area_mm2,
            waste_area_mm2=quote.waste_area_mm2,
            rates=quote.rates,
        )
        QuoteLine.objects.bulk_create(
            QuoteLine(
                quote=copy,
                position=line.position,
                kind=line.kind,
                text=line.text,
                facts=line.facts,
                amount=line.amount,
            )
            for line in lines
        )


def _over_when_empty(plan: CutPlan, acting: User) -> None:
    """The shared plan is over when no student is on it any more."""
    if plan.shares.filter(live=True).exists():
        return
    swapped = CutPlan.objects.filter(pk=plan.pk, state=State.ISSUED).update(
        state=State.PARTED, closed_by=acting, closed_at=timezone.now()
    )
    if swapped:
        plan.reserved.filter(live=True).update(live=False)
        record(acting, "plan-parted", plan, "parted into blanks; each student goes on alone")
    plan.refresh_from_db()
