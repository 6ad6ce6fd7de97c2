"""One person waits for a few things at a time, and the house for so many: beyond that, "busy"."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from classroom.files.waiting_files import KEPT
from classroom.models import User, WaitingFile
from classroom.papers.requests import AskedPaper
from classroom.refusals import Busy, Refused
from studio.models import Errand, Pattern, Project
from studio.queries.errands import errands_before
from studio.running.errands import clearing, look_after
from studio.running.errands.starting import NewErrand, start
from studio.steps.patterns.upload_quota import count_upload
from tests.at_once import told_at_once
from tests.people import Cast, signed_in
from tests.studio.patterns.making import files_in, make_project, words

from .making import (
    follow,
    newest,
    picture_of_a_square,
    send_outline,
    send_pattern,
    send_photo,
    work,
)

PAPER = AskedPaper("/print/capture-frame/", "as=pdf", "testserver", False, {})
ASKED = NewErrand(Errand.Kind.PRINT, "a paper", "/", asked={"paper": PAPER.to_json()})
BROUGHT = NewErrand(Errand.Kind.PATTERN, "a.svg", "/", data=b"<svg/>")


def test_a_fourth_file_of_one_person_is_refused_as_busy_and_loses_nothing(
    own_desk: Client, project: Project
) -> None:
    for number in range(3):
        assert send_pattern(own_desk, project, name=f"{number}.svg").status_code == 302
    answer = send_pattern(own_desk, project, name="fourth.svg", copies="7", width_mm="33 mm")
    page = words(answer)
    assert answer.status_code == 503
    assert int(answer["Retry-After"]) > 0
    assert "waiting for 3 files or prints already" in page
    assert 'value="7"' in page
    assert 'value="33 mm"' in page
    kept = WaitingFile.objects.get()
    assert (kept.file_name, Errand.objects.count()) == ("fourth.svg", 3)

    work()
    sent = {"copies": "7", "metal": str(project.brief.metals.get().pk), "kept": kept.token}
    again = own_desk.post(reverse("pattern_upload", args=[project.pk]), sent)
    assert again.status_code == 302
    assert newest().title == "fourth.svg"


def test_somebody_elses_files_do_not_count_until_the_house_is_full(
    cast: Cast, own_desk: Client, project: Project, settings: Any
) -> None:
    settings.ERRANDS_IN_ALL = 4
    for _ in range(3):
        send_pattern(own_desk, project)
    mate = make_project(cast, project.brief, cast.classmate_seat)
    assert send_pattern(signed_in(cast.classmate), mate).status_code == 302
    teacher = signed_in(cast.teacher)
    answer = send_outline(teacher, cast, b"<svg/>")
    assert answer.status_code == 503
    assert "Many people are waiting" in words(answer)
    assert "<strong>offcut.svg</strong> is kept" in words(answer)


def test_an_answer_about_the_size_is_refused_as_busy_with_what_was_typed(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, picture_of_a_square(), "scan.png")
    work()
    address = follow(own_desk).redirect_chain[-1][0]
    for _ in range(3):
        send_pattern(own_desk, project)
    answer = own_desk.post(address, {"way": "width", "width_mm": "41 mm"})
    assert answer.status_code == 503
    assert answer["Retry-After"]
    assert 'value="41 mm"' in words(answer)
    assert "waiting for 3 files" in words(answer)


@pytest.mark.django_db(transaction=True)
def test_many_requests_of_one_person_at_once_do_not_pass_the_bound(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.running.errands import starting

    monkeypatch.setattr(starting.do_errand.__class__, "enqueue", lambda *_, **__: None)
    answers = told_at_once(*[lambda: start(cast.owner, ASKED) for _ in range(8)])
    connection.close()
    assert answers.count("done") == 3
    assert Errand.objects.still_open().filter(owner=cast.owner).count() == 3


def test_a_refused_errand_leaves_no_file_behind(cast: Cast, store: Path) -> None:
    for _ in range(3):
        start(cast.owner, BROUGHT)
    with pytest.raises(Busy):
        start(cast.owner, BROUGHT)
    assert len(files_in(store)) == 3


def test_a_file_beyond_a_days_bound_is_saved_and_taken_away_again(
    cast: Cast, store: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.running.errands import starting

    settings.UPLOADS_A_DAY = 1
    lying: list[int] = []

    def counted(owner: User) -> None:
        lying.append(len(files_in(store / "errands")))
        count_upload(owner)

    monkeypatch.setattr(starting, "count_upload", counted)
    start(cast.owner, BROUGHT)
    kept = files_in(store)
    with pytest.raises(Refused, match="most in one day"):
        start(cast.owner, BROUGHT)
    assert lying == [1, 2]  # it was refused only when its file was there
    assert files_in(store) == kept
    Errand.objects.get().file.delete(save=False)
    assert not files_in(store)


def test_the_place_in_the_queue_counts_everybodys_and_moves_up(cast: Cast) -> None:
    people: list[User] = [cast.owner, cast.classmate, cast.teacher]
    first, second, third = [start(one, ASKED) for one in people]
    assert [errands_before(one) for one in (first, second, third)] == [0, 1, 2]
    assert "2 before you" in words(follow(signed_in(cast.teacher), third))
    Errand.objects.filter(pk=first.pk).update(state=Errand.State.DONE)
    assert errands_before(third) == 1


def test_what_was_brought_goes_when_it_is_read(
    own_desk: Client, project: Project, store: Path, django_capture_on_commit_callbacks: Any
) -> None:
    send_pattern(own_desk, project)
    with django_capture_on_commit_callbacks(execute=True):
        work()
    assert [path.parent.name for path in files_in(store)] != ["errands"]
    assert not files_in(store / "errands")
    assert Pattern.objects.exists()


@pytest.mark.usefixtures("pango")
def test_results_are_cleared_after_some_hours_and_the_oldest_before(
    cast: Cast,
    store: Path,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    monkeypatch.setattr(clearing, "MOST_KEPT", 2)
    with django_capture_on_commit_callbacks(execute=True):
        for _ in range(3):
            start(cast.owner, ASKED)
        work()
    assert len(files_in(store)) == 3
    look_after()
    assert Errand.objects.count() == len(files_in(store)) == 2
    with time_machine.travel(timezone.now() + KEPT + dt.timedelta(minutes=1)):
        look_after()
    assert not Errand.objects.exists()
    assert not files_in(store)


def test_a_stray_file_goes_when_it_is_old_and_a_young_one_stays(cast: Cast, store: Path) -> None:
    start(cast.owner, BROUGHT)
    Errand.objects.all().delete()
    look_after()
    assert files_in(store)
    with time_machine.travel(timezone.now() + KEPT + dt.timedelta(minutes=1)):
        look_after()
    assert not files_in(store)


@pytest.mark.parametrize(
    ("send", "data"), [(send_outline, b"<svg/>"), (send_photo, b"\xff\xd8\xff and more")]
)
def test_beyond_a_days_bound_the_teachers_form_keeps_its_words_and_file(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, send: Any, data: bytes
) -> None:
    from studio.running.errands import starting

    def spent(_: User) -> None:
        raise Refused("That is enough for today.")

    monkeypatch.setattr(starting, "count_upload", spent)
    answer = send(signed_in(cast.teacher), cast, data, measured="0.79 mm")
    page = words(answer)
    assert answer.status_code == 200
    assert "That is enough for today." in page
    assert 'value="0.79 mm"' in page
    assert f"<strong>{WaitingFile.objects.get().file_name}</strong> is kept" in page
    assert not Errand.objects.exists()
