"""Which metal, stock and budgets a person may see: fetching through here is the check.

The rack is the school's: every teacher of the school sees all of it. Budgets follow courses.
"""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Count, F, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from classroom.models import Course, School, User
from classroom.queries import courses_for

from .auditing import BY_CORRECTION
from .models import (
    Budget,
    BudgetEntry,
    Consumable,
    Metal,
    MetalOrder,
    MetalPrice,
    Purchase,
    PurchaseCorrection,
    ScrapEntry,
    ScrapSale,
    StockCount,
    StockMovement,
    StockPiece,
    SupplyMovement,
)
from .models.stock import StockPieceQuerySet


def metals_for(user: User) -> QuerySet[Metal]:
    return Metal.objects.filter(school=user.school)


def metals_listed_for(user: User) -> QuerySet[Metal]:
    """The school's metals with their prices in force, newest first, and with how many `sheets` and
    `offcuts` of each are on the rack; metals in use come first."""
    on_rack = Q(stock_pieces__state=StockPiece.State.RACK)
    prices = MetalPrice.objects.in_force().order_by("-dated", "-pk")
    return (
        metals_for(user)
        .annotate(
            sheets=Count("stock_pieces", filter=on_rack & Q(stock_pieces__kind="sheet")),
            offcuts=Count("stock_pieces", filter=on_rack & Q(stock_pieces__kind="offcut")),
        )
        .prefetch_related(Prefetch("prices", prices))
        .order_by("retired_at", "alloy_code", "thickness_mm", "pk")
    )


def metal_for(user: User, pk: int) -> Metal:
    return get_object_or_404(metals_for(user), pk=pk)


def prices_of(metal: Metal) -> QuerySet[MetalPrice]:
    """The metal's prices, newest first, corrected ones among them."""
    return metal.prices.select_related("recorded_by", "correction", "corrects").order_by(
        "-dated", "-pk"
    )


def price_for(user: User, pk: int) -> MetalPrice:
    return get_object_or_404(
        MetalPrice.objects.filter(metal__school=user.school).select_related("metal"), pk=pk
    )


def stock_for(user: User) -> StockPieceQuerySet:
    return StockPiece.objects.filter(school=user.school).select_related("metal")


def stock_piece_for(user: User, pk: int) -> StockPiece:
    return get_object_or_404(stock_for(user), pk=pk)


def stock_labelled(school: School | int, codes: Collection[str]) -> StockPieceQuerySet:
    """The school's stock pieces with these label codes, by code, whatever became of them."""
    return StockPiece.objects.filter(school=school, code__in=codes).order_by("code")


def movements_of(piece: StockPiece) -> QuerySet[StockMovement]:
    """Everything that happened to the piece, newest first."""
    return piece.movements.select_related("actor").order_by("-at", "-pk")


def counts_for(user: User) -> QuerySet[StockCount]:
    return StockCount.objects.filter(school=user.school).select_related("metal", "opened_by")


def count_for(user: User, pk: int) -> StockCount:
    return get_object_or_404(counts_for(user), pk=pk)


def purchases_for(user: User) -> QuerySet[Purchase]:
    return Purchase.objects.filter(school=user.school)


def purchase_for(user: User, pk: int) -> Purchase:
    return get_object_or_404(purchases_for(user), pk=pk)


def corrections_of(purchase: Purchase) -> QuerySet[PurchaseCorrection]:
    """What was corrected of the purchase, newest first."""
    return purchase.corrections.select_related("actor", "line__metal").order_by("-at", "-pk")


def is_in_use(purchase: Purchase) -> bool:
    """Whether some sheet of the purchase does not lie untouched on the rack any more."""
    sheets = StockPiece.objects.filter(purchase_line__purchase=purchase)
    return sheets.exclude(state=StockPiece.State.RACK).exists()


def sheets_of(purchase: Purchase) -> StockPieceQuerySet:
    """The purchase's sheets by label, without those that a correction says never came."""
    struck = StockMovement.objects.filter(
        stock_piece__purchase_line__purchase=purchase,
        kind=StockMovement.Kind.STRIKE,
        cause__startswith=BY_CORRECTION,
    )
    return (
        StockPiece.objects.filter(purchase_line__purchase=purchase)
        .exclude(state=StockPiece.State.GONE, pk__in=struck.values("stock_piece"))
        .select_related("metal")
        .order_by("code")
    )


def orders_for(user: User) -> QuerySet[MetalOrder]:
    return MetalOrder.objects.filter(school=user.school).select_related("ordered_by")


def order_for(user: User, pk: int) -> MetalOrder:
    return get_object_or_404(orders_for(user), pk=pk)


def consumables_for(user: User) -> QuerySet[Consumable]:
    return Consumable.objects.filter(school=user.school)


def consumable_for(user: User, pk: int) -> Consumable:
    return get_object_or_404(consumables_for(user), pk=pk)


def supply_entry_for(user: User, pk: int) -> SupplyMovement:
    rows = SupplyMovement.objects.filter(consumable__school=user.school)
    return get_object_or_404(rows.select_related("consumable"), pk=pk)


def low_supplies_for(user: User) -> QuerySet[Consumable]:
    """Supplies in use of which it is time to order more."""
    return consumables_for(user).filter(retired_at=None, on_hand__lte=F("reorder_at"))


def scrap_for(user: User) -> QuerySet[ScrapEntry]:
    return ScrapEntry.objects.filter(school=user.school)


def sales_for(user: User) -> QuerySet[ScrapSale]:
    return ScrapSale.objects.filter(school=user.school).select_related(
        "budget__course", "actor", "corrects", "correction"
    )


def sale_for(user: User, pk: int) -> ScrapSale:
    return get_object_or_404(sales_for(user), pk=pk)


def weighing_for(user: User, pk: int) -> ScrapEntry:
    return get_object_or_404(scrap_for(user), pk=pk)


def budgets_for(user: User) -> QuerySet[Budget]:
    return Budget.objects.filter(course__in=courses_for(user)).select_related("course")


def budget_of(course: Course) -> Budget:
    """The course's budget, or an empty one that is not kept: looking changes nothing."""
    return Budget.objects.filter(course=course).first() or Budget(course=course)


def entries_of(budget: Budget) -> QuerySet[BudgetEntry]:
    """The budget's entries in the order they were made; none for a budget not yet opened."""
    return (
        BudgetEntry.objects.filter(budget_id=budget.pk).select_related("actor").order_by("at", "pk")
    )
