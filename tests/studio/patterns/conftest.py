"""A store of evidence of each test's own: tests that run side by side must not count together."""

from __future__ import annotations

from pathlib import Path

import pytest

from studio.models import Pattern
from tests.people import Cast

from .making import handed_in, make_project


@pytest.fixture(autouse=True)
def kept_apart(evidence: Path) -> None:
    """No test counts another's files, or is stopped by its bounds."""


@pytest.fixture
def pattern(cast: Cast) -> Pattern:
    """A disc of the owner, handed in."""
    return handed_in(make_project(cast))
