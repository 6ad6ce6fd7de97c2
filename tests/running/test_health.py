"""`GET /health/`: for monitors, without sign-in; 503 where the database or a worker is missing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from studio.models import WorkerSign
from studio.running import health as asking
from studio.running.signs import SILENT_AFTER, Sign


@pytest.fixture(autouse=True)
def our_queue(settings: Any) -> None:
    settings.TASKS = {
        "default": {
            "BACKEND": "django_tasks_db.DatabaseBackend",
            "QUEUES": ["default", "desk"],
        }
    }


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


@pytest.mark.django_db
def test_a_monitor_beside_the_server_needs_no_tls_and_no_name(settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    Sign().give()
    assert asked()[0] == 200
    assert Client().get("/sign-in/").status_code == 301
