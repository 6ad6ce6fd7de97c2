"""What the tests of ways begin with."""

from __future__ import annotations

import pytest

from studio.models import CutPlan
from tests.people import Cast

from .. import making as plans
from . import making


@pytest.fixture
def parted(cast: Cast) -> CutPlan:
    """A proposed plan of two students whose metal is parted with the shear."""
    making.shear(cast)
    return plans.shared_plan(cast)
