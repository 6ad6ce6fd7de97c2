"""The worker's commands: what they do, and what they say when they cannot."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from studio.management.commands.work import forget_old_tasks
from studio.models import CutPlan, PlacingJob
from studio.steps.plans import lease
from studio.steps.plans.place import propose
from tests.people import Cast
from tests.studio.plans import making


@pytest.fixture
def database_queue(settings: Any) -> None:
    settings.TASKS = {
        "default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}
    }


@pytest.mark.django_db
def test_worker_without_the_databases_queue_says_what_to_start_instead() -> None:
    with pytest.raises(CommandError, match=r"celery -A studio\.queues\.celery_app worker"):
        call_command("work", "--batch")


@pytest.mark.django_db
@pytest.mark.parametrize("interval", ["0", "999", "nan"])
def test_unusable_interval_is_refused_in_one_line(interval: str) -> None:
    with pytest.raises(CommandError, match="--interval"):
        call_command("work", "--interval", interval)


def test_reap_says_how_many_jobs_it_took_up(
    cast: Cast, database_queue: None, django_capture_on_commit_callbacks: Any
) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    plan = propose([project], acting=cast.teacher)
    lease.claim(plan.placing.pk, "gone")
    PlacingJob.objects.update(lease_until=timezone.now() - dt.timedelta(seconds=1))
    said = io.StringIO()
    with django_capture_on_commit_callbacks(execute=True):
        call_command("reap", stdout=said)
    assert said.getvalue() == "1 placing jobs taken up again or given up.\n"
    assert DBTaskResult.objects.get().args_kwargs["args"] == [plan.placing.pk]
    assert CutPlan.objects.get().state == CutPlan.State.PLACING


@pytest.mark.django_db
def test_reaping_goes_on_when_the_database_is_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a district nobody else takes up what was lost."""
    from django.db import OperationalError

    from studio.management.commands import reap

    answers: list[Any] = [OperationalError("the database system is shutting down"), 2]

    def reaped() -> int:
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return int(answer)

    class Enough(Exception):
        pass

    def sleep(_: float) -> None:
        if not answers:
            raise Enough

    monkeypatch.setattr(reap, "reap", reaped)
    monkeypatch.setattr(reap.time, "sleep", sleep)
    monkeypatch.setattr(reap.connections, "close_all", lambda: None)
    monkeypatch.setattr(reap, "close_old_connections", lambda: None)
    said = io.StringIO()
    with pytest.raises(Enough):
        call_command("reap", "--every", "1", stdout=said)
    assert said.getvalue().startswith("2 placing jobs")


def test_rows_of_tasks_that_ended_long_ago_are_forgotten(cast: Cast, database_queue: None) -> None:
    from studio.tasks import place_plan

    for _ in range(3):
        place_plan.enqueue(0)
    old, fresh, waiting = DBTaskResult.objects.all()
    now = timezone.now()
    DBTaskResult.objects.filter(pk=old.pk).update(
        status="SUCCESSFUL", finished_at=now - dt.timedelta(days=15)
    )
    DBTaskResult.objects.filter(pk=fresh.pk).update(status="SUCCESSFUL", finished_at=now)
    forget_old_tasks()
    assert set(DBTaskResult.objects.all()) == {fresh, waiting}
