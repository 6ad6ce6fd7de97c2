"""A row of a backup finds its file in it, whatever comes and goes meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connections

from classroom.models import User, WaitingFile
from classroom.waiting_files import let_go, set_aside
from studio.keeping import databases, writing
from studio.keeping.proving import prove
from studio.keeping.words import NotKept
from studio.keeping.writing import make_backup
from studio.models import Project
from tests.studio.bench.making import World

Deed = Callable[[], object]


def around_the_moment(
    monkeypatch: pytest.MonkeyPatch,
    *,
    before: Deed = lambda: None,
    after: Deed = lambda: None,
    times: int = 1,
) -> list[int]:
    """Deeds right before and right after the database's moment, the first `times` times."""
    real: Any = databases.snapshot
    moments: list[int] = []

    def snapshot(to: Path) -> Any:
        moments.append(len(moments))
        if len(moments) <= times:
            before()
        taken = real(to)
        if len(moments) <= times:
            after()
        return taken

    monkeypatch.setattr(databases, "snapshot", snapshot)
    return moments


def bring(world: World) -> WaitingFile:
    return set_aside(world.cast.owner, world.brief, b"brought" * 50, file_name="late.png")


def test_a_file_that_comes_while_files_are_copied_is_in_the_backup(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    moments = around_the_moment(monkeypatch, before=lambda: bring(world))
    manifest = prove(make_backup(tmp_path / "one.zip").file)
    late = WaitingFile.objects.get(file_name="late.png")
    assert late.file.name in manifest.evidence
    assert len(moments) == 1


def test_a_file_that_goes_right_after_the_moment_is_in_the_backup(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    waiting = bring(world)
    moments = around_the_moment(monkeypatch, after=lambda: let_go(waiting))
    manifest = prove(make_backup(tmp_path / "one.zip").file)
    assert waiting.file.name in manifest.evidence
    assert len(moments) == 1


def test_a_file_that_came_and_went_around_the_moment_asks_for_another_moment(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    brought: list[WaitingFile] = []
    moments = around_the_moment(
        monkeypatch,
        before=lambda: brought.append(bring(world)),
        after=lambda: let_go(brought[0]),
    )
    made = make_backup(tmp_path / "one.zip")
    assert len(moments) == 2
    assert made.missing == ()
    assert brought[0].file.name not in prove(made.file).evidence


def test_files_that_come_and_go_without_end_end_the_backup_in_words(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    brought: list[WaitingFile] = []
    around_the_moment(
        monkeypatch,
        before=lambda: brought.append(bring(world)),
        after=lambda: let_go(brought[-1]),
        times=writing.MOST_MOMENTS,
    )
    with pytest.raises(NotKept, match="came and went"):
        make_backup(tmp_path / "one.zip")
    assert not (tmp_path / "one.zip").exists()


def test_a_file_that_was_still_being_written_is_copied_again_when_it_is_whole(
    world: World, evidence: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    half = evidence / "patterns" / "half.svg"
    half.write_bytes(b"<svg")

    def written() -> None:
        half.write_bytes(b"<svg>whole</svg>")

    around_the_moment(monkeypatch, before=written)
    manifest = prove(make_backup(tmp_path / "one.zip").file)
    assert manifest.evidence["patterns/half.svg"].size == len(b"<svg>whole</svg>")


def test_a_file_that_was_lost_at_home_does_not_stop_backups_and_is_told(
    world: World, evidence: Path, tmp_path: Path
) -> None:
    lost = WaitingFile.objects.get(file_name="scan.png").file.name
    (evidence / str(lost)).unlink()
    made = make_backup(tmp_path / "one.zip")
    assert made.missing == (lost,)
    assert prove(made.file).missing == (lost,)


def test_links_among_the_files_are_not_followed(
    world: World, evidence: Path, tmp_path: Path
) -> None:
    (tmp_path / "private").write_text("not of the school")
    (evidence / "patterns" / "link.svg").symlink_to(tmp_path / "private")
    (evidence / "elsewhere").symlink_to(tmp_path)
    manifest = prove(make_backup(tmp_path / "one.zip").file)
    assert not [path for path in manifest.evidence if "link" in path or "elsewhere" in path]


@pytest.mark.slow
def test_backups_are_whole_while_people_bring_files_and_let_them_go(
    world: World, tmp_path: Path
) -> None:
    ended = threading.Event()
    broken: list[BaseException] = []
    done = [0, 0]

    def work(number: int, owner: User) -> None:
        thing = Project.objects.order_by("pk")[0]
        try:
            while not ended.is_set():
                waiting = set_aside(owner, thing, b"x" * 20_000, file_name="a.png", shown=b"s")
                if done[number] % 2:
                    let_go(waiting)
                done[number] += 1
        except BaseException as error:
            broken.append(error)
        finally:
            connections.close_all()

    people = (world.cast.owner, world.cast.classmate)
    threads = [threading.Thread(target=work, args=pair) for pair in enumerate(people)]
    for thread in threads:
        thread.start()
    try:
        for number in range(4):
            # Files that live for a millisecond may go too quickly; then nothing is left lying.
            try:
                made = make_backup(tmp_path / f"{number}.zip")
            except NotKept:
                assert not (tmp_path / f"{number}.zip").exists()
                continue
            assert made.missing == ()
            assert prove(made.file)
    finally:
        ended.set()
        for thread in threads:
            thread.join()
    assert broken == []
    assert min(done) > 0
    assert prove(make_backup(tmp_path / "after.zip").file).missing == ()
