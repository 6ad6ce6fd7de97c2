"""Before the database changes its shape the school is kept, or nothing changes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from classroom.models import BackupRun
from studio.keeping import upgrading
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept
from studio.keeping.upgrading import NoUpgrade, kept_before_upgrade
from studio.serving import opening as serving
from tests.people import Cast
from tests.studio.bench.making import World


@pytest.fixture
def newest(db: Any) -> tuple[str, str]:
    """The newest change of studio's tables."""
    ((app, name),) = MigrationLoader(connection).graph.leaf_nodes("studio")
    return app, name


@pytest.fixture
def earlier(evidence: Path, newest: tuple[str, str]) -> None:
    """The database says that it does not know the newest change yet."""
    MigrationRecorder(connection).record_unapplied(*newest)


@pytest.fixture
def migrated(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Commands that getting ready has run."""
    ran: list[str] = []
    monkeypatch.setattr(serving, "call_command", lambda name, **_: ran.append(name))
    return ran


def test_a_school_is_kept_before_its_database_changes(
    world: World, earlier: None, newest: tuple[str, str], settings: Any, migrated: list[str]
) -> None:
    try:
        serving.make_ready()
    finally:
        MigrationRecorder(connection).record_applied(*newest)
    (kept,) = settings.BACKUP_FOLDER.iterdir()
    assert kept.name.startswith("before-upgrade-")
    manifest = prove(kept)
    assert newest not in manifest.migrations
    assert migrated == ["migrate", "collectstatic"]
    run = BackupRun.objects.get()
    assert (run.kind, run.outcome, run.file_name) == ("upgrade", "done", str(kept))


@pytest.mark.django_db
def test_nothing_changes_where_the_backup_failed(
    cast: Cast, earlier: None, migrated: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise NotKept("The disk of /backups is full.")

    monkeypatch.setattr(upgrading, "make_backup", full)
    with pytest.raises(CommandError, match=r"disk of /backups is full.*Nothing was changed") as no:
        serving.make_ready()
    assert "BENCHLEDGER_BACKUP_BEFORE_UPGRADE=0" in str(no.value)
    assert migrated == []


@pytest.mark.django_db
def test_a_switch_goes_on_without_a_backup(
    cast: Cast, earlier: None, migrated: list[str], settings: Any
) -> None:
    settings.BACKUP_BEFORE_UPGRADE = False
    serving.make_ready()
    assert migrated == ["migrate", "collectstatic"]
    assert not settings.BACKUP_FOLDER.exists()


@pytest.mark.django_db
def test_an_installation_without_a_school_changes_without_a_backup(
    earlier: None, settings: Any
) -> None:
    with kept_before_upgrade() as made:
        assert made is None
    assert not settings.BACKUP_FOLDER.exists()


@pytest.mark.django_db
def test_a_start_without_changes_makes_no_backup(cast: Cast, evidence: Path, settings: Any) -> None:
    with kept_before_upgrade() as made:
        assert made is None
    assert not settings.BACKUP_FOLDER.exists()


@pytest.mark.django_db
def test_a_backup_folder_that_cannot_be_made_is_named(
    cast: Cast, earlier: None, settings: Any, tmp_path: Path
) -> None:
    (tmp_path / "file").write_bytes(b"")
    settings.BACKUP_FOLDER = tmp_path / "file" / "backups"
    with pytest.raises(NoUpgrade, match="cannot be made"), kept_before_upgrade():
        pass
