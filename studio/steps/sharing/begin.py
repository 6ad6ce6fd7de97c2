"""A shared plan's metal has been handed out: what its way asks for begins."""

from __future__ import annotations

from classroom.models import User
from studio.models import CutPlan

from .begin_passed import begin_passed
from .parting.own_plans import give_blanks
from .parting.part_step import make_part_step

Way = CutPlan.Way


def begin_sharing(plan: CutPlan, *, acting: User) -> None:
    """The steps of the plan's shared stock pieces, and the own plans of students whose metal
    needs no cut; nothing for a plan of one student's pieces.

    Called in the transaction that hands the metal out, before the projects' own steps are made.
    """
    if plan.way in (Way.PARTED, Way.SAWN):
        _to_part(plan, acting)
    begin_passed(plan)


def _to_part(plan: CutPlan, acting: User) -> None:
    assert plan.laid is not None
    cut = {one.metal for one in plan.laid.cuts}
    held = plan.reserved.filter(live=True, addition=False).select_related("stock_piece")
    for row in held.order_by("pk"):
        if row.stock_piece.code in cut:
            make_part_step(plan, row)
    give_blanks(plan, acting=acting)
