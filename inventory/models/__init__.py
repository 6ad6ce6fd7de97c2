"""What: metals, the rack, supplies and the budgets that pay for them."""

from .budget import Budget, BudgetEntry, BudgetTransfer, ScrapSale
from .counts import CountedPiece, StockCount
from .metal import Metal, MetalPrice
from .sent_form import SentForm
from .stock import (
    LabelSeries,
    MetalOrder,
    MetalOrderLine,
    Purchase,
    PurchaseCorrection,
    PurchaseLine,
    ScrapEntry,
    StockMovement,
    StockPiece,
)
from .supplies import Consumable, SupplyMovement

__all__ = [
    "Budget",
    "BudgetEntry",
    "BudgetTransfer",
    "Consumable",
    "CountedPiece",
    "LabelSeries",
    "Metal",
    "MetalOrder",
    "MetalOrderLine",
    "MetalPrice",
    "Purchase",
    "PurchaseCorrection",
    "PurchaseLine",
    "ScrapEntry",
    "ScrapSale",
    "SentForm",
    "StockCount",
    "StockMovement",
    "StockPiece",
    "SupplyMovement",
]
