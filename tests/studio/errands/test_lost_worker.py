"""A worker that goes away loses no errand and does none twice."""

from __future__ import annotations

import datetime as dt
import io
import time
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from classroom.files.waiting_files import KEPT
from classroom.models import WaitingFile
from studio.models import Errand, Pattern, Project
from studio.running.errands import lease, look_after
from studio.running.errands.doing import DOERS, run
from studio.running.errands.reaping import FORGOTTEN_AFTER, reap
from tests.people import Cast
from tests.studio.patterns.making import words

from .making import follow, newest, send_pattern


def lease_is_over() -> None:
    Errand.objects.update(lease_until=timezone.now() - dt.timedelta(seconds=1))


def test_an_errand_whose_worker_has_gone_is_taken_up_by_another(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project)
    lease.claim(newest().pk, "gone/1")
    assert not run(newest().pk, "other/2")  # the lease holds
    lease_is_over()
    assert look_after() == 1
    assert newest().state == Errand.State.QUEUED
    assert "another one takes it up again" in words(follow(own_desk))
    assert run(newest().pk, "other/2")
    assert Pattern.objects.count() == 1


def test_whoever_waits_brings_it_back_into_the_queue_by_looking(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project)
    lease.claim(newest().pk, "gone/1")
    lease_is_over()
    follow(own_desk)
    assert newest().state == Errand.State.QUEUED


def test_a_worker_that_lost_its_lease_changes_nothing(
    own_desk: Client, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    send_pattern(own_desk, project)
    slow = DOERS[Errand.Kind.PATTERN]

    def overtaken(errand: Errand) -> Callable[[], dict[str, Any]]:
        """Reads, and finds when it has read that another worker was quicker."""
        deed = slow(errand)
        lease_is_over()
        reap()
        monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, slow)
        assert run(errand.pk, "other/2")
        return deed

    monkeypatch.setitem(DOERS, Errand.Kind.PATTERN, overtaken)
    assert not run(newest().pk, "slow/1")
    assert Pattern.objects.count() == 1
    assert newest().worker == "other/2"


def test_after_three_attempts_the_person_is_told_and_the_file_is_kept(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, copies="4")
    for number in range(3):
        assert lease.claim(newest().pk, f"gone/{number}")
        lease_is_over()
        reap()
    assert newest().state == Errand.State.FAILED
    assert not lease.claim(newest().pk, "another/4")
    page = words(follow(own_desk))
    assert "went away each time" in page
    assert 'value="4"' in page
    assert WaitingFile.objects.get().token in page


def test_an_errand_that_the_queue_lost_is_queued_once_more_and_ends_after_hours(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project)
    assert reap() == 0
    with time_machine.travel(timezone.now() + FORGOTTEN_AFTER + dt.timedelta(seconds=1)):
        assert (reap(), reap()) == (1, 0)
    with time_machine.travel(timezone.now() + KEPT + dt.timedelta(seconds=1)):
        assert reap() == 1
    assert newest().state == Errand.State.FAILED


def test_the_reap_command_looks_after_errands_too(own_desk: Client, project: Project) -> None:
    send_pattern(own_desk, project)
    lease.claim(newest().pk, "gone/1")
    lease_is_over()
    call_command("reap", stdout=io.StringIO())
    assert newest().state == Errand.State.QUEUED


def test_renewing_keeps_the_lease_and_stops_when_it_is_lost(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project)
    lease.claim(newest().pk, "desk/1")
    lease_is_over()
    assert lease.renew(newest().pk, "desk/1")
    assert not run(newest().pk, "other/2")
    assert not lease.renew(newest().pk, "other/2")


@pytest.mark.django_db(transaction=True)
def test_the_lease_is_renewed_beside_long_work(cast: Cast, settings: Any) -> None:
    settings.ERRAND_LEASE_SECONDS = 0.2
    errand = Errand.objects.create(owner=cast.owner, kind=Errand.Kind.PRINT, title="a", back="/")
    claimed = lease.claim(errand.pk, "desk/1")
    assert claimed is not None
    first, end = claimed.lease_until, timezone.now() + dt.timedelta(seconds=60)
    with lease.renewed(claimed, "desk/1"):
        while newest().lease_until == first and timezone.now() < end:
            time.sleep(0.01)
    assert newest().lease_until != first
