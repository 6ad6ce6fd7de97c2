"""Own plans out of a parted sheet, and what they come to: made, brought back, added up."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from classroom.models import subject_of
from inventory.models import BudgetEntry, StockPiece
from studio.models import CutPlan, PartEntry, Project, Quote, StockStep
from studio.steps.rack.give_back import close_plan, every_offcut
from studio.steps.sharing.parting.part import sign_parted, start_parting
from tests.studio.bench.making import World


def parted(world: World, plan: CutPlan) -> list[PartEntry]:
    step = StockStep.objects.get(plan_stock__plan=plan)
    start_parting(step, acting=world.cast.teacher)
    return sign_parted(step, acting=world.cast.teacher, place="Drawer 1")


def own_plan(project: Project) -> CutPlan:
    return CutPlan.objects.get(shares__project=project, shares__live=True)


def charged_for(plans: Sequence[CutPlan]) -> Decimal:
    """What the budget was charged for these plans, less what it was given back."""
    signs = {"charge": 1, "credit": -1}
    entries = BudgetEntry.objects.filter(
        cause__in=[subject_of(plan) for plan in plans], kind__in=signs
    )
    return sum((signs[one.kind] * one.amount for one in entries), Decimal(0))


def metal_gone(world: World) -> Decimal:
    """What the first sheet cost less what of it is on the rack or at the bench, part by part."""
    sheet = world.sheets[0]
    there = StockPiece.objects.exclude(state="gone")
    kept = sum((one.cost for one in there if _comes_of(one, sheet)), Decimal(0))
    return sheet.cost - kept


def _comes_of(piece: StockPiece, sheet: StockPiece) -> bool:
    while piece.parent is not None:
        piece = piece.parent
    return piece.pk == sheet.pk


def close(world: World, project: Project, *, made: bool = True) -> CutPlan:
    plan = own_plan(project)
    if made:
        Project.objects.filter(pk=project.pk).update(stage=Project.Stage.MADE)
    close_plan(
        plan,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(1),
        given_up_reason="" if made else "ill",
        overdraw_reason="used more",
    )
    return plan


def consumables(quotes: Sequence[Quote]) -> Decimal:
    return sum((quote.total - quote.metal_total for quote in quotes), Decimal(0))
