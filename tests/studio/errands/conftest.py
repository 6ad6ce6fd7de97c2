"""As in production: the request writes the errand down, and a worker does it later."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(autouse=True)
def queued(settings: Any) -> None:
    settings.ERRANDS_AT_ONCE = False
    settings.ERRAND_MOMENT_SECONDS = 0.0


@pytest.fixture(autouse=True)
def store(evidence: Path) -> Path:
    """A private store of each test's own; the folder."""
    return evidence


@pytest.fixture
def no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever opens an uploaded file or makes a PDF falls over: for requests that must not."""
    from studio.core.reading import door, metal
    from studio.running.errands import papers

    def never(*_: Any, **__: Any) -> bytes:
        raise AssertionError("a file is read, or a paper made, in the web process")

    for module in (door, metal, papers):
        monkeypatch.setattr(module, "confined", never)
