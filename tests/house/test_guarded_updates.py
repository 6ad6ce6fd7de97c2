"""The watch over guarded updates sees what it is there for."""

from __future__ import annotations

import pytest

from inventory.models import StockPiece
from studio.models import CutPlan, PlacingJob


@pytest.mark.django_db
def test_update_whose_condition_crosses_a_relation_is_refused() -> None:
    with pytest.raises(AssertionError, match="both win"):
        PlacingJob.objects.filter(plan__state=CutPlan.State.PLACING).update(worker="a")


@pytest.mark.django_db
def test_update_with_conditions_on_the_row_itself_passes() -> None:
    waiting = CutPlan.objects.filter(state=CutPlan.State.PLACING)
    assert PlacingJob.objects.filter(plan__in=waiting, attempts=0).update(worker="a") == 0
    assert StockPiece.objects.filter(pk=0, state="rack").update(state="gone") == 0
