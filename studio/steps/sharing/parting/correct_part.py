"""A blank measures otherwise than was entered: a new entry takes the old one's place, and the
layout of the student's own plan is judged on the blank as it is."""

from __future__ import annotations

from dataclasses import replace

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from shapely import wkt
from shapely.geometry import Polygon

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.rack import parting
from inventory.rack.edges import edges_from, left_on_offcut
from inventory.rack.outlines import checked_outline
from studio.core.bench.part_text import CLEAN_CUTS
from studio.core.cutting import Stock, plan_to_json
from studio.core.cutting.formats import job_to_json
from studio.core.offcuts.own_blank import as_laid, no_longer_holds
from studio.core.offcuts.true_outline import true_outline
from studio.models import CutPlan, PartEntry, SignOff, StockStep

from .entries import lies_at
from .measuring import PartOut, checked
from .part_step import tool_in
from .planned_parts import planned_parts


def why_not_corrected(entry: PartEntry, user: User) -> str:
    """Why this person cannot correct the entry any more; "" while they can."""
    plan = entry.plan_stock.plan
    if not user.is_teacher or not plan.course.teachers.filter(pk=user.pk).exists():
        return _("Only a teacher of this course does that.")
    if entry.share_id is None or entry.made_id is None:
        return _("What lies on the rack is corrected there, on its own page.")
    own = _own_plan(entry)
    if own is None:
        return _("This blank is on no student's plan at the bench any more.")
    if SignOff.objects.filter(
        step__project__plan_shares__plan=own, step__project__plan_shares__live=True
    ).exists():
        return _("Its student has begun at the bench: the blank stays as it is entered.")
    return ""


@transaction.atomic
def correct_part(entry: PartEntry, said: PartOut, *, acting: User) -> PartEntry:
    """Enter the true sides of a blank, with the cause; its student's layout is judged anew.

    Raises Refused for anybody but a teacher of the course, without a cause, for an entry that was
    corrected already, and once its student has begun.
    """
    row = entry.plan_stock
    CutPlan.objects.select_for_update(no_key=True).only("pk").get(pk=row.plan_id)
    if PartEntry.objects.filter(corrects=entry).exists():
        raise Refused(_("Somebody else has just corrected this. Load the page again."))
    if why := why_not_corrected(entry, acting):
        raise Refused(why)
    if not said.cause.strip() or said.is_lost:
        raise Refused(_("Say why it was entered wrong: it is kept with the metal."))
    parts = planned_parts(row.plan, row.stock_piece.code)
    one = checked(parts, {entry.part: said})[entry.part]
    outline = _outline(entry, one)
    own = _own_plan(entry)
    made = entry.made
    assert own is not None
    assert made is not None
    step = StockStep.objects.get(plan_stock=row, kind="part")
    stock = row.stock_piece
    parents = edges_from(stock.clean_edges, stock.rough_edges)
    edges = left_on_offcut(
        stock.polygon,
        parents,
        outline,
        checked_outline(outline),
        clean_cuts=tool_in(step) in CLEAN_CUTS,
    )
    parting.remeasure(
        made, outline, edges, acting=acting, reason=one.cause, cause=subject_of(row.plan)
    )
    _judge_anew(own, entry, outline)
    new = PartEntry.objects.create(
        plan_stock=row,
        kind=entry.kind if entry.kind == PartEntry.Kind.WRONG_CUT else PartEntry.Kind.MEASURED,
        part=entry.part,
        share_id=entry.share_id,
        width_mm=one.width_mm,
        height_mm=one.height_mm,
        outline=wkt.dumps(outline, rounding_precision=6, trim=True),
        made=made,
        cause=one.cause,
        by=acting,
        at=timezone.now(),
        corrects=entry,
    )
    text = f"corrected part {entry.part} of {stock.code}: {one.width_mm} × {one.height_mm} mm"
    record(acting, "part-corrected", row.plan, text, why=one.cause)
    return new


def _outline(entry: PartEntry, said: PartOut) -> Polygon:
    if said.width_mm is None or said.height_mm is None:
        raise Refused(_("Give the width and the height that it really has."))
    row = entry.plan_stock
    parts = planned_parts(row.plan, row.stock_piece.code)
    planned = next(part for part in parts if part.number == entry.part).metal[0]
    size = float(said.width_mm), float(said.height_mm)
    try:
        return true_outline(planned, row.stock_piece.polygon, *size)
    except ValueError:
        text = _("A part of those sides cannot have come out. Measure again.")
        raise Refused(text) from None


def _own_plan(entry: PartEntry) -> CutPlan | None:
    """The student's own plan, or the shared one as long as other blanks are awaited."""
    return CutPlan.objects.filter(
        reserved__stock_piece=entry.made_id, reserved__live=True, state=CutPlan.State.ISSUED
    ).first()


def _judge_anew(own: CutPlan, entry: PartEntry, outline: Polygon) -> None:
    """The own plan's blank is as it really is; its pieces stay where they lay in the sheet."""
    if own.parent_id is None or own.laid is None or entry.made is None:
        return  # still with the shared plan: it is judged when the student gets it
    stock = entry.plan_stock.stock_piece
    before, code = lies_at(entry), entry.made.code
    (bx, by), (x0, y0) = before.bounds[:2], outline.bounds[:2]
    entry.made.refresh_from_db()
    shape = entry.made.polygon
    assert isinstance(shape, Polygon)
    parents = edges_from(stock.clean_edges, stock.rough_edges)
    edges = left_on_offcut(stock.polygon, parents, outline, shape)
    asked = own.asked
    metal = tuple(
        Stock(code, shape, one.price_per_mm2, edges.clean, one.grain_deg, edges.rough)
        if one.id == code
        else one
        for one in asked.metal
    )
    job = replace(asked, metal=metal)
    placements = tuple(
        replace(one, x_mm=one.x_mm + bx - x0, y_mm=one.y_mm + by - y0) if one.metal == code else one
        for one in own.laid.placements
    )
    own.job = job_to_json(job)
    own.answer = plan_to_json(as_laid(job, placements, own.laid))
    own.to_lay_anew = bool(no_longer_holds(job, placements))
    own.save(update_fields=["job", "answer", "to_lay_anew"])
