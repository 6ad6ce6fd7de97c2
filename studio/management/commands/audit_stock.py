"""Proves every balance of metal and money from the entries alone."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection, transaction

from inventory.auditing import audit
from inventory.models import Budget, StockPiece
from studio.auditing import audit_plans
from studio.models import CutPlan


class Command(BaseCommand):
    help = (
        "Proves the rack, the scrap boxes, the supplies, the budgets and every cut plan from "
        "their entries alone. Prints each difference in words; ends with 1 when there is one."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with transaction.atomic():
            _as_of_one_moment()
            faults = [*audit(), *audit_plans()]
            counts = (
                f"{StockPiece.objects.count()} stock pieces, {Budget.objects.count()} budgets, "
                f"{CutPlan.objects.count()} cut plans"
            )
        for fault in faults:
            self.stdout.write(fault)
        if faults:
            plural = "" if len(faults) == 1 else "s"
            self.stderr.write(f"{len(faults)} difference{plural} in {counts}.")
            raise SystemExit(1)
        self.stdout.write(f"All balances hold: {counts}.")


def _as_of_one_moment() -> None:
    """Let a school go on working while it is counted; SQLite reads like that by itself."""
    if connection.vendor == "postgresql" and not connection.savepoint_ids:
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
