"""Do a budget's running totals say what its entries come to?"""

from __future__ import annotations

from decimal import Decimal

from inventory.models import Budget, BudgetEntry


def budget_faults(budget: Budget, sums: dict[str, Decimal]) -> list[str]:
    """What the budget's totals say otherwise than the sums of its entries by kind."""
    of = BudgetEntry.Kind

    def by(kind: str) -> Decimal:
        return sums.get(kind, Decimal(0))

    entries = {
        "allotted": by(of.ALLOTMENT),
        "committed": by(of.COMMITMENT) - by(of.RELEASE),
        "charged": by(of.CHARGE),
        "credited": by(of.CREDIT),
        "overdraw_allowed": by(of.OVERDRAW),
    }
    faults = [
        f"{name.replace('_', ' ')} is {getattr(budget, name):,.2f}, its entries say {value:,.2f}"
        for name, value in entries.items()
        if getattr(budget, name) != value
    ]
    if budget.left < -budget.overdraw_allowed:
        faults.append(f"{budget.left:,.2f} is left, more overdrawn than was allowed")
    return faults
