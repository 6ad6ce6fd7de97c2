"""A stock piece is parted: signed for, measured, booked part by part.

At that moment its leftovers are on the rack and its blanks are stock pieces of their own, handed
out; every student whose blanks are all there goes on with a plan of their own. A part that was
spoilt is scrapped: its student's project is placed again, and the course bears its metal.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _
from shapely import wkt
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import parting, stock
from inventory.rack.outlines import area_of
from studio.core.areas import united, without
from studio.core.bench.part_text import CLEAN_CUTS
from studio.core.offcuts.leftovers import is_worth_keeping
from studio.core.offcuts.true_outline import true_outline
from studio.core.pricing.part_costs import part_costs
from studio.models import CutPlan, PartEntry, PlanStock, StockSignOff, StockStep
from studio.steps.bench.moves import sign_off, swap
from studio.steps.bench.situation import school_now

from .blank_money import charge_spoilt, give_up_blanks
from .may_part import why_not_part
from .measuring import PartOut, checked
from .own_plans import give_blanks
from .part_step import tool_in
from .planned_parts import PlannedPart, planned_parts
from .put_back import back_to_be_placed

Kind = PartEntry.Kind
SignKind = StockSignOff.Kind
LEAST_MM2 = 1.0


@dataclass(frozen=True, slots=True)
class _CameOut:
    """One area of metal that came out of a part, where it lay in the stock piece."""

    planned: PlannedPart
    said: PartOut
    outline: Polygon

    @property
    def kind(self) -> str:
        if self.said.is_lost:
            return Kind.LOST
        return Kind.WRONG_CUT if self.said.cause else Kind.MEASURED


@transaction.atomic
def start_parting(step: StockStep, *, acting: User) -> StockStep:
    """Somebody begins to part the metal. Starting what is begun or done changes nothing.

    Raises Refused for whoever may not: pupils without their permits, and at a power-driven
    guillotine anybody but the teacher.
    """
    here = _held(step)
    if here.started_at is not None or here.done_at is not None:
        return here
    _refuse(why_not_part(here, acting))
    now = _now(here)
    swap(here, {"done_at": None}, started_at=now)
    sign_off(here, SignKind.STARTED, acting, now)
    record(acting, "parting-started", here.plan_stock.plan, f"began to part {_code(here)}")
    return here


@transaction.atomic
def sign_parted(
    step: StockStep,
    *,
    acting: User,
    measured: Mapping[int, PartOut] | None = None,
    place: str = "",
) -> list[PartEntry]:
    """The metal is parted as the plan says, or as `measured` says part by part.

    Parts that are not named came out as planned. Signing twice changes nothing and answers with
    what the first signature booked. `place` is where leftovers lie on the rack. Raises Refused for
    whoever may not, before the step is started, for sizes that cannot have come out of the stock
    piece, and for a part that was spoilt or cut wrong without its cause.
    """
    here = _held(step)
    row = here.plan_stock
    if here.done_at is not None:
        return list(row.part_entries.filter(corrected_by=None).order_by("part", "pk"))
    _refuse(why_not_part(here, acting))
    if here.started_at is None:
        raise Refused(_("Parting has not been started. Press “Start” first, then do it."))
    now = _now(here)
    parts = planned_parts(row.plan, _code(here))
    said = checked(parts, measured or {})
    swap(here, {"done_at": None}, student_signed_at=now, done_at=now)
    sign_off(here, SignKind.DONE, acting, now)
    entries = _book(here, _came_out(row, parts, said), acting, place, now)
    record(
        acting,
        "stock-parted",
        row.plan,
        f"parted {_code(here)}: {_told(entries)}",
        parts=[[entry.part, entry.kind, entry.cause] for entry in entries],
    )
    give_blanks(row.plan, acting=acting)
    return entries


def _held(step: StockStep) -> StockStep:
    """The step as it is now, its plan's row held until the transaction ends."""
    plan_pk = PlanStock.objects.filter(steps=step.pk).values_list("plan_id", flat=True).get()
    CutPlan.objects.select_for_update(no_key=True).only("pk").get(pk=plan_pk)
    return StockStep.objects.select_related(
        "plan_stock__plan__course__school",
        "plan_stock__plan__metal",
        "plan_stock__stock_piece__metal",
        "plan_stock__stock_piece__school",
    ).get(pk=step.pk)


def _came_out(
    row: PlanStock, parts: Sequence[PlannedPart], said: Mapping[int, PartOut]
) -> list[_CameOut]:
    """All areas of metal that came out; what was spoilt is what the others leave of it."""
    outline = row.stock_piece.polygon
    found = []
    for part in parts:
        one = said[part.number]
        if one.is_lost:
            continue
        areas = part.metal
        if one.width_mm is not None and one.height_mm is not None:
            try:
                size = float(one.width_mm), float(one.height_mm)
                areas = (true_outline(part.metal[0], outline, *size),)
            except ValueError:
                text = _("A part of those sides cannot have come out. Measure again.")
                raise Refused(text) from None
        found += [_CameOut(part, one, area) for area in areas]
    taken = united([one.outline for one in found]) if found else None
    for part in parts:
        one = said[part.number]
        if one.is_lost:
            found += [_CameOut(part, one, area) for area in _left_of(part, taken)]
    return found


def _left_of(part: PlannedPart, taken: BaseGeometry | None) -> list[Polygon]:
    """The largest area of a spoilt part that no other part is said to have."""
    areas = []
    for area in part.metal:
        left = area if taken is None else without(area, taken)
        areas += [one for one in getattr(left, "geoms", [left]) if isinstance(one, Polygon)]
    return sorted((one for one in areas if one.area > LEAST_MM2), key=lambda one: -one.area)[:1]


def _book(
    here: StockStep, came_out: Sequence[_CameOut], acting: User, place: str, now: dt.datetime
) -> list[PartEntry]:
    """The stock piece becomes its parts; one entry for each area that came out."""
    row = here.plan_stock
    job = row.plan.asked
    blanks = [one for one in came_out if one.planned.is_blank]
    left = [
        one
        for one in came_out
        if not one.planned.is_blank and not one.said.is_lost and is_worth_keeping(one.outline, job)
    ]
    if not blanks:
        raise Refused(_("No metal is left for any student. Measure again."))
    piece = row.stock_piece
    piece.refresh_from_db()
    left_costs, blank_costs = part_costs(
        piece.cost,
        piece.area_mm2,
        [area_of(one.outline) for one in left],
        [area_of(one.outline) for one in blanks],
    )
    cause, reason = subject_of(row.plan), f"parted for {row.plan}"
    made = parting.part(
        piece,
        [parting.Part(one.outline, cost) for one, cost in zip(blanks, blank_costs, strict=True)],
        [parting.Part(one.outline, cost) for one, cost in zip(left, left_costs, strict=True)],
        clean_cuts=tool_in(here) in CLEAN_CUTS,
        acting=acting,
        reason=reason,
        cause=cause,
        place=place,
    )
    rows = dict(zip(map(id, (*blanks, *left)), (*made.blanks, *made.leftovers), strict=True))
    PlanStock.objects.filter(pk=row.pk).update(live=False)
    entries = [_entry(row, one, rows.get(id(one)), acting, now) for one in came_out]
    _give(row, blanks, [rows[id(one)] for one in blanks], acting)
    return entries


def _entry(
    row: PlanStock, one: _CameOut, made: StockPiece | None, acting: User, now: dt.datetime
) -> PartEntry:
    x0, y0, x1, y1 = one.outline.bounds
    as_measured = one.said.width_mm is not None and not one.said.is_lost
    width = one.said.width_mm if as_measured else Decimal(f"{x1 - x0:.2f}")
    height = one.said.height_mm if as_measured else Decimal(f"{y1 - y0:.2f}")
    return PartEntry.objects.create(
        plan_stock=row,
        kind=one.kind,
        part=one.planned.number,
        share=one.planned.share,
        width_mm=None if one.said.is_lost else width,
        height_mm=None if one.said.is_lost else height,
        outline=wkt.dumps(one.outline, rounding_precision=6, trim=True),
        made=None if one.said.is_lost else made,
        cause=one.said.cause,
        by=acting,
        at=now,
    )


def _give(
    row: PlanStock, blanks: Sequence[_CameOut], made: Sequence[StockPiece], acting: User
) -> None:
    """Spoilt blanks go into the scrap box, those of projects that have left the plan to the rack;
    the rest is held by the shared plan until its students have all their blanks."""
    cause = subject_of(row.plan)
    for one, piece in zip(blanks, made, strict=True):
        share = one.planned.share
        assert share is not None
        if one.said.is_lost:
            stock.scrap(piece, acting=acting, reason=f"spoilt: {one.said.cause}", cause=cause)
            charge_spoilt(piece, row.plan, acting=acting, why=one.said.cause)
            if share.live:
                back_to_be_placed(share, acting=acting, why=one.said.cause)
                give_up_blanks(share, row.plan, acting=acting)
        elif not share.live:
            reason = f"blank of a project that has left {row.plan}"
            stock.bring_back([piece], acting=acting, reason=reason, cause=cause)
        else:
            PlanStock.objects.create(plan=row.plan, stock_piece=piece)


def _told(entries: Sequence[PartEntry]) -> str:
    blanks = sum(entry.share_id is not None and entry.made_id is not None for entry in entries)
    left = sum(entry.share_id is None and entry.made_id is not None for entry in entries)
    return (
        f"{blanks} blank{'' if blanks == 1 else 's'}, "
        f"{left} leftover{'' if left == 1 else 's'} to the rack"
    )


def _code(here: StockStep) -> str:
    return here.plan_stock.stock_piece.code


def _now(here: StockStep) -> dt.datetime:
    return school_now(here.plan_stock.plan.course.school)


def _refuse(sentences: Sequence[str]) -> None:
    if sentences:
        raise Refused(" ".join(sentences))
