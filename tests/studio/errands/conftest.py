"""As in production: the request writes the errand down, and a worker does it later."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from studio.models import Project
from tests.people import Cast, signed_in
from tests.studio.patterns.making import make_project


@pytest.fixture(autouse=True)
def queued(settings: Any) -> None:
    settings.ERRANDS_AT_ONCE = False
    settings.ERRAND_MOMENT_SECONDS = 0.0


@pytest.fixture(autouse=True)
def store(settings: Any, tmp_path: Path) -> Path:
    """A private store of each test's own; the folder."""
    folder = tmp_path / "evidence"
    folder.mkdir()
    settings.EVIDENCE_DIR = folder
    return folder


@pytest.fixture
def no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever opens an uploaded file or makes a PDF falls over: for requests that must not."""
    from studio.core.reading import door, metal
    from studio.running.errands import papers

    def never(*_: Any, **__: Any) -> bytes:
        raise AssertionError("a file is read, or a paper made, in the web process")

    for module in (door, metal, papers):
        monkeypatch.setattr(module, "confined", never)


@pytest.fixture
def project(cast: Cast) -> Project:
    return make_project(cast)


@pytest.fixture
def client(cast: Cast) -> Client:
    """The browser of the student whose project it is."""
    return signed_in(cast.owner)
