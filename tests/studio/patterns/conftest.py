"""A store of evidence of each test's own: tests that run side by side must not count together."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.files.storage import FileSystemStorage

from studio.models import Pattern


@pytest.fixture(autouse=True)
def evidence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The folder in which the test's uploads are kept."""
    folder = tmp_path / "evidence"
    folder.mkdir()
    store = FileSystemStorage(location=folder, base_url=None)
    monkeypatch.setattr(Pattern._meta.get_field("file"), "storage", store)
    return folder
