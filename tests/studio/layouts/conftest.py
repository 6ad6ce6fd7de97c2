"""What several tests of layouts begin with."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from studio.running.layouts import judging
from tests.studio.plans.conftest import plan

__all__ = ["plan"]


@pytest.fixture(autouse=True)
def _nothing_in_mind() -> Iterator[None]:
    """No judgement of another test's layout, whose row had the same number."""
    judging.forget()
    yield
    judging.forget()
