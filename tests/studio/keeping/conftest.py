from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.studio.bench.making import World

from .filling import fill


@pytest.fixture
def evidence(evidence: Path, tmp_path: Path, settings: Any) -> Path:
    """The folder of uploaded files; backups and what else is kept lie beside it."""
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    settings.BACKUP_FOLDER = tmp_path / "backups"
    return evidence


@pytest.fixture(autouse=True)
def never_steps_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that has stepped back never steps forward again; that of the tests does not."""
    from studio.management.commands import backup

    monkeypatch.setattr(backup, "be_nice", lambda: None)


@pytest.fixture
def world(transactional_db: Any, evidence: Path) -> World:
    return fill()


@pytest.fixture
def backup(world: World, tmp_path: Path) -> Path:
    """A backup of the filled school."""
    from studio.keeping.writing import make_backup

    return make_backup(tmp_path / "school.zip").file


_ONCE: list[bytes] = []


@pytest.fixture
def any_backup(transactional_db: Any, evidence: Path, tmp_path: Path) -> Path:
    """The backup of a filled school that is somewhere else: made once, for it takes a second."""
    from studio.keeping.writing import make_backup

    file = tmp_path / "any.zip"
    if not _ONCE:
        fill()
        _ONCE.append(make_backup(file).file.read_bytes())
    file.write_bytes(_ONCE[0])
    return file
