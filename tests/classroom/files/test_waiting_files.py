"""Files between two pages: for their owner, for some hours, and then they are gone."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import transaction

from classroom.files.waiting_files import (
    KEPT,
    MOST_EACH,
    clear_out,
    content_of,
    let_go,
    set_aside,
    waiting_file,
)
from classroom.models import WaitingFile
from tests.people import Cast


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.EVIDENCE_DIR = tmp_path
    return tmp_path / "waiting"


def bring(cast: Cast, data: bytes = b"fish", **more: Any) -> WaitingFile:
    return set_aside(cast.owner, cast.course, data, file_name="fish.jpg", **more)


def test_the_owner_finds_the_file_again_with_all_that_was_typed(cast: Cast) -> None:
    kept = bring(cast, shown=b"small", known={"copies": 3})
    found = waiting_file(cast.owner, cast.course, kept.token)
    assert found is not None
    assert content_of(found) == b"fish"
    with found.shown.open() as shown:
        assert shown.read() == b"small"
    assert found.known == {"copies": 3}


def test_nobody_else_finds_it_and_nobody_about_another_thing(cast: Cast) -> None:
    kept = bring(cast)
    for person in (cast.classmate, cast.teacher, cast.outsider):
        assert waiting_file(person, cast.course, kept.token) is None
    assert waiting_file(cast.owner, cast.seat, kept.token) is None
    assert waiting_file(cast.owner, cast.course, kept.token[:-1]) is None


def test_its_name_in_the_store_says_nothing_of_its_own_name(cast: Cast, folder: Path) -> None:
    set_aside(cast.owner, cast.course, b"x", file_name="../../etc/passwd.svg")
    (stored,) = folder.iterdir()
    assert stored.suffix == ".bin"
    assert "passwd" not in stored.name


def test_after_some_hours_it_is_found_no_more_and_cleared(
    cast: Cast, folder: Path, django_capture_on_commit_callbacks: Any
) -> None:
    kept = bring(cast, shown=b"small")
    with time_machine.travel(kept.brought_at + KEPT):
        assert waiting_file(cast.owner, cast.course, kept.token) is None
        with django_capture_on_commit_callbacks(execute=True):
            clear_out()
    assert not WaitingFile.objects.exists()
    assert list(folder.iterdir()) == []


def test_a_person_keeps_no_more_than_a_few_and_the_newest(
    cast: Cast, folder: Path, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        kept = [bring(cast, b"%d" % number) for number in range(MOST_EACH + 2)]
    left = list(WaitingFile.objects.values_list("pk", flat=True))
    assert sorted(left) == [one.pk for one in kept[-MOST_EACH:]]
    assert len(list(folder.iterdir())) == MOST_EACH


def test_a_file_that_is_let_go_leaves_nothing(
    cast: Cast, folder: Path, django_capture_on_commit_callbacks: Any
) -> None:
    kept = bring(cast, shown=b"small")
    with django_capture_on_commit_callbacks(execute=True):
        let_go(kept)
    assert list(folder.iterdir()) == []
    assert waiting_file(cast.owner, cast.course, kept.token) is None


def test_a_file_whose_transaction_came_to_nothing_is_not_left_behind(
    cast: Cast, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*given: object, **options: object) -> None:
        raise RuntimeError("no room")

    monkeypatch.setattr(WaitingFile, "save", fail)
    with pytest.raises(RuntimeError), transaction.atomic():
        bring(cast)
    assert list(folder.iterdir()) == []


def test_a_stray_file_goes_when_it_is_old_and_a_young_one_stays(cast: Cast, folder: Path) -> None:
    kept = bring(cast)
    for name in ("old.bin", "young.bin"):
        (folder / name).write_bytes(b"?")
    long_ago = kept.brought_at - KEPT
    os.utime(folder / "old.bin", (long_ago.timestamp(), long_ago.timestamp()))
    assert clear_out() == 1
    assert content_of(kept) == b"fish"
    assert (folder / "young.bin").exists()
    assert not (folder / "old.bin").exists()
