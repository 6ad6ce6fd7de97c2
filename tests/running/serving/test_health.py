"""`GET /health/`: for monitors, without sign-in; 503 where the database or a worker is missing."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from studio.models import WorkerSign
from studio.running import health as asking
from studio.running.signs import SILENT_AFTER, Sign

pytestmark = pytest.mark.usefixtures("database_queue")


def asked() -> tuple[int, dict[str, str]]:
    answer = Client().get("/health/")
    return answer.status_code, answer.json()


@pytest.mark.django_db
def test_all_is_well_while_a_worker_gives_signs_of_life() -> None:
    sign = Sign()
    sign.give()
    sign.give()
    assert asked() == (200, {"database": "ok", "worker": "ok"})
    assert WorkerSign.objects.count() == 1
    sign.take_back()
    assert asked()[0] == 503


@pytest.mark.django_db
def test_a_silent_worker_is_told() -> None:
    long_ago = timezone.now() - SILENT_AFTER - dt.timedelta(seconds=1)
    WorkerSign.objects.create(worker="gone/1/a", seen_at=long_ago)
    assert asked() == (503, {"database": "ok", "worker": "silent"})


@pytest.mark.django_db
def test_a_dead_worker_is_silent_though_the_clock_was_put_back_by_an_hour() -> None:
    later = timezone.now() + dt.timedelta(hours=1)
    WorkerSign.objects.create(worker="gone/1/a", seen_at=later)
    assert asked() == (503, {"database": "ok", "worker": "silent"})
    sign = Sign()
    sign.give()
    assert asked()[0] == 200


@pytest.mark.django_db
def test_workers_of_long_ago_leave_no_rows() -> None:
    long_ago = timezone.now() - dt.timedelta(days=2)
    WorkerSign.objects.create(worker="gone/1/a", seen_at=long_ago)
    Sign().give()
    assert not WorkerSign.objects.filter(worker="gone/1/a").exists()


@pytest.mark.django_db
def test_a_database_that_is_away_is_told_without_a_traceback(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def away(*_: Any, **__: Any) -> None:
        raise OperationalError("the database system is starting up")

    monkeypatch.setattr(connection, "cursor", away)
    monkeypatch.setattr(connection, "close", lambda: None)
    assert asked() == (503, {"database": "does not answer", "worker": "not known"})


@pytest.mark.django_db
def test_a_districts_workers_are_asked_over_their_broker_and_seldom(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.TASKS = {"default": {"BACKEND": "studio.queues.celery_backend.CeleryBackend"}}
    pings = []
    district = asking._Celery()
    monkeypatch.setattr(district, "_ping", lambda: bool(pings.append(1)) or True)
    monkeypatch.setattr(asking, "_celery", district)
    assert asked()[0] == 200
    assert asked()[0] == 200
    assert len(pings) == 1


class _Broker:
    """A district whose broker answers a ping only when it is let."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = 0.0
        self.district = asking._Celery()
        self.asked, self.let = threading.Event(), threading.Event()
        monkeypatch.setattr(self.district, "_ping", self._ping)
        monkeypatch.setattr(asking, "monotonic", lambda: self.now)

    def _ping(self) -> bool:
        self.asked.set()
        assert self.let.wait(240)
        return True

    @contextmanager
    def asked_by_somebody(self) -> Iterator[None]:
        """Within it somebody waits for the broker, and has the answer at its end."""
        self.asked.clear()
        self.let.clear()
        somebody = threading.Thread(target=self.district.answers, daemon=True)
        somebody.start()
        try:
            assert self.asked.wait(240)
            yield
        finally:
            self.let.set()
            somebody.join(240)
        assert not somebody.is_alive()

    def answers_others(self) -> list[bool | None]:
        """What another is answered meanwhile, or nothing where it has to wait as well."""
        found: list[bool | None] = []
        other = threading.Thread(target=lambda: found.append(self.district.answers()), daemon=True)
        other.start()
        other.join(120)
        return found


def test_while_one_waits_for_the_broker_the_others_hear_what_was_found_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    broker = _Broker(monkeypatch)
    with broker.asked_by_somebody():
        assert broker.answers_others() == [None]  # nothing was found yet
    assert broker.district.answers() is True
    broker.now += asking.PING_KEPT_SECONDS + 1
    with broker.asked_by_somebody():
        assert broker.answers_others() == [True]
        broker.now += asking.LAST_KNOWN_SECONDS
        assert broker.answers_others() == [None]  # too long ago to be told
    assert broker.answers_others() == [True]


@pytest.mark.django_db
def test_workers_of_whom_nothing_is_known_yet_are_not_told_to_be_well(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.TASKS = {"default": {"BACKEND": "studio.queues.celery_backend.CeleryBackend"}}
    monkeypatch.setattr(asking._celery, "answers", lambda: None)
    assert asked() == (503, {"database": "ok", "worker": "not known"})


@pytest.mark.django_db
def test_a_monitor_beside_the_server_needs_no_tls_and_no_name(settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    Sign().give()
    assert asked()[0] == 200
    assert Client().get("/sign-in/").status_code == 301
