"""What several tests of cut plans begin with."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from studio.models import CutPlan
from studio.running.placing import reaping
from tests.people import Cast

from . import making


@pytest.fixture
def plan(cast: Cast) -> CutPlan:
    """A proposed plan that holds one project of the owner."""
    metal = making.copper(cast)
    making.stock(metal, "CU-1", box(0, 0, 90, 70), cost="9.00")
    making.supplies(cast)
    making.allot(cast, "50.00")
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, title="Harbour tag"
    )
    return making.placed(cast, project)


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Job numbers as they are queued again."""
    found: list[int] = []
    monkeypatch.setattr(reaping, "_enqueue", found.append)
    return found
