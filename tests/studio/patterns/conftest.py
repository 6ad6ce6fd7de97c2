"""A store of evidence of each test's own: tests that run side by side must not count together."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from studio.models import Pattern
from tests.people import Cast

from .making import handed_in, make_project


@pytest.fixture(autouse=True)
def evidence(settings: Any, tmp_path: Path) -> Path:
    """The folder in which the test's uploads are kept."""
    folder = tmp_path / "evidence"
    folder.mkdir()
    settings.EVIDENCE_DIR = folder
    return folder


@pytest.fixture
def pattern(cast: Cast) -> Pattern:
    """A disc of the owner, handed in."""
    return handed_in(make_project(cast))
