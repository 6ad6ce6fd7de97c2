"""One person cannot fill the school's disk, and is told what to do instead."""

from __future__ import annotations

import datetime as dt
import threading
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import connections
from django.urls import reverse

from classroom.refusals import Refused
from studio.models import Errand, Pattern, Project, UploadTally
from studio.steps.patterns import upload_quota
from studio.steps.patterns.upload_quota import count_upload, kept_bytes, require_room
from tests.people import Cast, make_cast, signed_in
from tests.studio.patterns.making import BAR, DISC, LARGE, RINGED, bring

# 20:00 on the wall in Halifax, tomorrow in UTC
EVENING = dt.datetime(2026, 11, 26, 0, 0, tzinfo=dt.UTC)


def send(cast: Cast, project: Project, data: bytes) -> str:
    from django.core.files.uploadedfile import SimpleUploadedFile

    answer = signed_in(cast.owner).post(
        reverse("pattern_upload", args=[project.pk]),
        {"file": SimpleUploadedFile("tag.svg", data), "copies": "1", "metal": project.metal_id},
        follow=True,
    )
    return answer.content.decode()


def test_more_than_a_days_files_are_refused_in_words_before_they_are_read(
    cast: Cast, project: Project, evidence: Path, settings: Any
) -> None:
    settings.UPLOADS_A_DAY = 2
    for data in (DISC, RINGED):
        assert "most in one day" not in send(cast, project, data)
    assert Pattern.objects.count() == 2
    errands = Errand.objects.count()
    page = send(cast, project, BAR)
    assert "You have brought 2 files today, which is the most in one day." in page
    assert "go on tomorrow" in page
    assert Pattern.objects.count() == 2
    assert Errand.objects.count() == errands


def test_a_file_that_cannot_be_read_counts_too(
    cast: Cast, project: Project, evidence: Path, settings: Any
) -> None:
    settings.UPLOADS_A_DAY = 1
    send(cast, project, DISC[:-20])
    assert "most in one day" in send(cast, project, DISC)


def test_the_day_is_the_schools_and_the_tally_starts_anew(cast: Cast, settings: Any) -> None:
    settings.UPLOADS_A_DAY = 1
    with time_machine.travel(EVENING, tick=False) as clock:
        count_upload(cast.owner)
        clock.shift(dt.timedelta(hours=3))
        with pytest.raises(Refused):
            count_upload(cast.owner)
        count_upload(cast.classmate)
        clock.shift(dt.timedelta(hours=2))
        count_upload(cast.owner)
        clock.shift(dt.timedelta(days=30))
        count_upload(cast.owner)
    assert UploadTally.objects.filter(owner=cast.owner).count() == 1


@pytest.mark.django_db(transaction=True)
def test_several_at_the_same_moment_count_one_by_one(settings: Any) -> None:
    settings.UPLOADS_A_DAY = 3
    owner = make_cast().owner
    together = threading.Barrier(6)
    said: list[str] = []

    def click() -> None:
        together.wait(timeout=60)
        try:
            count_upload(owner)
            said.append("counted")
        except Refused:
            said.append("refused")
        finally:
            connections.close_all()

    clicks = [threading.Thread(target=click) for _ in range(6)]
    for one in clicks:
        one.start()
    for one in clicks:
        one.join()
    assert sorted(said) == ["counted"] * 3 + ["refused"] * 3
    assert UploadTally.objects.get().count == 3


def test_a_project_keeps_so_many_versions_and_no_more(
    cast: Cast, project: Project, evidence: Path, settings: Any
) -> None:
    settings.VERSIONS_A_PROJECT = 2
    first = bring(project, DISC)
    bring(project, RINGED)
    with pytest.raises(Refused, match="2 versions of its pattern"):
        bring(project, BAR)
    files = [path for path in evidence.rglob("*") if path.is_file()]
    assert len(files) == project.patterns.count() == 2
    first.refresh_from_db()
    assert first.state == Pattern.State.ASIDE
    assert "2 versions of its pattern" in send(cast, project, LARGE)


def test_a_project_keeps_so_many_bytes_and_no_more(
    project: Project, evidence: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.PROJECT_MB = 1
    bring(project, DISC)
    assert kept_bytes(project) == len(DISC)
    require_room(project, 900_000)
    with pytest.raises(Refused, match="fill 1 MB, which is the most"):
        require_room(project, 1_000_000)
    monkeypatch.setattr(upload_quota, "kept_bytes", lambda _: 1_000_000)
    with pytest.raises(Refused, match="300 dpi"):
        bring(project, RINGED)
    assert project.patterns.count() == 1
