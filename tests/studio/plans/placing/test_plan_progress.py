"""The page of a plan that is being placed: it moves by itself and takes up what was lost."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import CutPlan, PlacingJob
from studio.running.placing import doing as running
from studio.running.signs import Sign
from studio.steps.plans import lease
from studio.steps.plans.place import propose
from tests.people import Cast, signed_in
from tests.studio.plans import making
from tests.studio.plans.making import a_class, queries

State = CutPlan.State


def being_placed(cast: Cast) -> CutPlan:
    metal = making.copper(cast)
    making.stock(metal, "CU-1")
    project = making.approved_project(making.brief(cast, metal), cast.seat, metal)
    return propose([project], acting=cast.teacher)


def asked(client: Client, plan: CutPlan, n: str = "1") -> Any:
    return client.get(
        f"{reverse('plan_progress', args=[plan.pk])}?n={n}", headers={"hx-request": "true"}
    )


def with_progress(plan: CutPlan) -> None:
    """A worker is in the middle: it holds the lease and has reported a plan."""
    from studio.core.cutting import job_from_json

    assert lease.claim(plan.placing.pk, "worker")
    row = PlacingJob.objects.select_related("plan").get(plan=plan)
    watch = running.Watch(row, job_from_json(plan.job), "worker")
    found = running.place(job_from_json(plan.job), rounds=1)
    watch.report(found)


def test_page_asks_for_progress_by_itself_and_ever_more_slowly(cast: Cast) -> None:
    plan = being_placed(cast)
    client = signed_in(cast.owner)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert 'hx-trigger="load delay:1s"' in page
    assert "Waiting for a worker" in page
    assert ">Look again</a>" in page  # without scripts
    assert 'hx-trigger="load delay:2s"' in asked(client, plan, "1").content.decode()
    assert 'hx-trigger="load delay:8s"' in asked(client, plan, "8").content.decode()
    for nonsense in ("99999", "-1", "x<script>", ""):
        assert 'hx-trigger="load delay:2s"' in asked(client, plan, nonsense).content.decode()


def test_best_plan_so_far_is_shown_as_a_picture(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    for person in (cast.owner, cast.teacher):
        part = asked(signed_in(person), plan).content.decode()
        assert "<svg" in part
        assert "1 of 1 piece has a place" in " ".join(part.split())


def test_asking_ends_with_a_reload_when_the_plan_is_there(cast: Cast) -> None:
    plan = being_placed(cast)
    making.run(plan)
    answer = asked(signed_in(cast.owner), plan)
    assert answer.headers["HX-Refresh"] == "true"


def test_looking_at_a_plan_takes_a_lost_job_up_again(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    past = timezone.now() - dt.timedelta(seconds=1)
    PlacingJob.objects.update(lease_until=past)
    page = signed_in(cast.owner).get(reverse("plan", args=[plan.pk])).content.decode()
    assert PlacingJob.objects.get().state == PlacingJob.State.QUEUED
    assert "another one takes the pieces up again" in " ".join(page.split())


def test_job_that_was_given_up_says_so_and_its_best_plan_can_be_kept(cast: Cast) -> None:
    plan = being_placed(cast)
    with_progress(plan)
    PlacingJob.objects.update(attempts=3, lease_until=timezone.now() - dt.timedelta(seconds=1))
    client = signed_in(cast.teacher)
    page = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Placing did not come to its end" in page
    assert "Keep this one" in page
    client.post(reverse("plan_stop", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == State.PROPOSED
    assert plan.quotes.count() == 1


def test_stop_is_refused_in_words_once_the_plan_is_there(cast: Cast, plan: CutPlan) -> None:
    answer = signed_in(cast.teacher).post(reverse("plan_stop", args=[plan.pk]))
    assert answer.status_code == 409
    assert "not being placed any more" in answer.content.decode()


def test_progress_asks_the_database_as_often_for_many_projects_as_for_few(cast: Cast) -> None:
    metal = making.copper(cast)
    for number in range(4):
        making.stock(metal, f"CU-{number}")
    a_brief = making.brief(cast, metal)
    projects = [making.approved_project(a_brief, seat, metal) for seat in a_class(cast, 8)]
    client = signed_in(cast.teacher)
    found = []
    for group in (projects[:1], projects[1:]):
        plan = propose(group, acting=cast.teacher)
        with_progress(plan)
        url = reverse("plan_progress", args=[plan.pk])
        found.append(queries(client, url, **{"hx-request": "true"}))
    assert found[0] == found[1]


def test_without_a_worker_nobody_is_promised_one(cast: Cast, settings: Any) -> None:
    queues = {
        "BACKEND": "django_tasks_db.DatabaseBackend",
        "QUEUES": ["default", "desk", "trials"],
    }
    settings.TASKS = {"default": queues}
    plan = being_placed(cast)
    address = reverse("plan", args=[plan.pk])
    mine = signed_in(cast.owner).get(address).content.decode()
    assert "Tell your teacher." in mine
    assert "in a moment" not in mine
    teachers = signed_in(cast.teacher).get(address).content.decode()
    assert "<code>python3 manage.py work</code>" in teachers
    assert "python3 manage.py work" in asked(signed_in(cast.teacher), plan).content.decode()
    Sign().give()
    assert "in a moment" in signed_in(cast.owner).get(address).content.decode()
