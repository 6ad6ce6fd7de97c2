"""A row of a backup finds its file in it, whatever comes and goes meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connections

from classroom.files import waiting_files
from classroom.files.waiting_files import let_go, set_aside
from classroom.models import User, WaitingFile
from studio.keeping import databases, writing
from studio.keeping.proving import prove
from studio.keeping.refusals import NotKept
from studio.keeping.writing import make_backup
from studio.models import Project
from tests.running.house import wait_for
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


class Busy:
    """Somebody who brings files and lets them go, until told to end.

    In haste, every second file goes as soon as it came, which may be too quick for a backup.
    Otherwise a file goes only when two moments of the database have begun since it came: by then
    the files have been copied in between, so no backup may fail for it. The moments say how
    quick that is, and no clock.
    """

    MOST_HELD = 20

    def __init__(self, owner: User, moments: list[int]) -> None:
        self.owner = owner
        self.moments = moments
        self.haste, self.ended = threading.Event(), threading.Event()
        self.held: list[tuple[WaitingFile, int]] = []
        self.brought = self.gone = 0
        self.broken: BaseException | None = None
        self.thread = threading.Thread(target=self._work, daemon=True)

    def _work(self) -> None:
        try:
            thing = Project.objects.order_by("pk")[0]
            while not self.ended.is_set():
                self._round(thing)
        except BaseException as error:
            self.broken = error
        finally:
            connections.close_all()

    def _round(self, thing: Project) -> None:
        hasty = self.haste.is_set()
        if len(self.held) < self.MOST_HELD:
            one = set_aside(self.owner, thing, b"x" * 20_000, file_name="a.png", shown=b"s")
            self.brought += 1
            self.held.append((one, len(self.moments)))
        else:
            self.ended.wait(0.001)
        if hasty and self.brought % 2:
            self._let_go(len(self.held) - 1)
        elif self.held and (hasty or self._one_may_go()):
            self._let_go(0)

    def _let_go(self, number: int) -> None:
        let_go(self.held.pop(number)[0])
        self.gone += 1

    def wait_until(self, what: Callable[[], bool]) -> None:
        wait_for(lambda: what() or self.broken is not None)

    def go_on(self) -> None:
        before = self.brought + self.gone
        self.wait_until(lambda: self.brought + self.gone > before)

    def take_time(self) -> None:
        """From now on; returns when no more goes before the next moment."""
        self.haste.clear()
        self.wait_until(lambda: len(self.held) == self.MOST_HELD and not self._one_may_go())

    def has_begun_again(self) -> None:
        """Return when something has come since this moment began; at once where all waits."""
        if not self.haste.is_set():
            self.wait_until(lambda: self.held[-1][1] == len(self.moments) or not self._one_may_go())

    def _one_may_go(self) -> bool:
        return len(self.moments) >= self.held[0][1] + 2


@pytest.mark.slow
def test_backups_are_whole_while_people_bring_files_and_let_them_go(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting_files, "MOST_EACH", 2 * Busy.MOST_HELD)
    people: list[Busy] = []

    def somebody_is_busy() -> None:
        """Something has come since the files were copied first, and more comes and goes."""
        for one in people:
            one.has_begun_again()

    moments = around_the_moment(monkeypatch, before=somebody_is_busy, times=1_000)
    people += [Busy(one, moments) for one in (world.cast.owner, world.cast.classmate)]
    for one in people:
        one.haste.set()
        one.thread.start()
    try:
        for number in range(2):
            for one in people:
                one.go_on()
            # Files that live for a millisecond may go too quickly; then nothing is left lying.
            try:
                made = make_backup(tmp_path / f"hasty-{number}.zip")
            except NotKept:
                assert not (tmp_path / f"hasty-{number}.zip").exists()
                continue
            assert made.missing == ()
            assert prove(made.file)
        for one in people:
            one.take_time()
        gone = [one.gone for one in people]
        for number in range(4):
            made = make_backup(tmp_path / f"{number}.zip")
            assert made.missing == ()
            assert prove(made.file)
            for one in people:
                one.take_time()
        assert all(one.gone > before for one, before in zip(people, gone, strict=True))
    finally:
        for one in people:
            one.ended.set()
        for one in people:
            one.thread.join(240)
    assert [one.broken for one in people] == [None, None]
    assert not any(one.thread.is_alive() for one in people)
    assert prove(make_backup(tmp_path / "after.zip").file).missing == ()
