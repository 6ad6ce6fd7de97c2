"""What a decision about a pattern sets going."""

from __future__ import annotations

from typing import Any

import pytest

import studio.steps.patterns.answer
from studio.models import Project


@pytest.fixture
def placed(monkeypatch: pytest.MonkeyPatch) -> list[list[Project]]:
    """What was asked to be placed, without placing it."""
    asked: list[list[Project]] = []

    def propose(projects: list[Project], **options: Any) -> None:
        asked.append(list(projects))

    monkeypatch.setattr(studio.steps.patterns.answer, "propose", propose)
    return asked
