"""Where people type free text about metal and money: searched when a student's name is erased."""

from __future__ import annotations

from classroom.erasing.reach import Keeping, Searched

from .models import (
    BudgetEntry,
    BudgetTransfer,
    CountedPiece,
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

SEARCHED: Searched = {
    BudgetEntry: ("budget__course__school", ("reason",)),
    BudgetTransfer: ("source__course__school", ("reason",)),
    CountedPiece: ("count__school", ("place",)),
    MetalOrder: ("school", ("seller", "reference", "closed_why")),
    MetalPrice: ("metal__school", ("remark", "reason")),
    Purchase: ("school", ("seller", "reference")),
    PurchaseCorrection: ("purchase__school", ("before", "after", "reason")),
    ScrapEntry: ("school", ("reason",)),
    ScrapSale: ("school", ("buyer", "reason")),
    StockCount: ("school", ("reason",)),
    StockMovement: ("stock_piece__school", ("reason",)),
    StockPiece: ("school", ("place",)),
    SupplyMovement: ("consumable__school", ("reason",)),
}


def kept() -> Keeping:
    return Keeping(SEARCHED)
