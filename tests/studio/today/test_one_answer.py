"""The first page, the project's page and the trail say the same of what comes next."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from classroom.models import Seat, User
from classroom.refusals import Refused
from studio.models import CutPlan, PlacingJob, Project
from studio.queries.patterns import projects_for
from studio.steps.patterns.answer import return_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.telling.today.next_things import students_day
from studio.telling.today.standings import WhatsNext, whats_next, with_what_counts
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_world
from tests.studio.building.making import DISC, build, shape
from tests.studio.patterns.making import THIN, bring, make_brief, make_metal, make_project, words

pytestmark = pytest.mark.django_db


def answer(project: Project, asking: User) -> WhatsNext:
    found = list(with_what_counts(projects_for(asking).filter(pk=project.pk)))
    return whats_next(found, asking)[project.pk]


def none_yet(cast: Cast) -> Project:
    return make_project(cast)


def only_shapes(cast: Cast) -> Project:
    project = make_project(cast)
    shape(project, DISC)
    return project


def with_stops(cast: Cast) -> Project:
    project = make_project(cast, make_brief(cast, least_bridge_mm="2.00"))
    assert bring(project, THIN).stops
    return project


def built(cast: Cast) -> Project:
    project = make_project(cast)
    build(project, DISC)
    return project


def handed(cast: Cast) -> Project:
    project = built(cast)
    hand_in(project.patterns.get(), acting=cast.owner)
    return project


def returned_file(cast: Cast) -> Project:
    project = make_project(cast)
    hand_in(bring(project), acting=cast.owner)
    return_pattern(project.patterns.get(), acting=cast.teacher, remark="Rounder, please.")
    return project


def returned_shapes(cast: Cast) -> Project:
    project = handed(cast)
    return_pattern(project.patterns.get(), acting=cast.teacher, remark="Rounder, please.")
    return project


def emptied_shapes(cast: Cast) -> Project:
    project = only_shapes(cast)
    shape(project)
    return project


def with_a_metal_no_longer_allowed(cast: Cast) -> Project:
    project = built(cast)
    project.brief.metals.set([make_metal(cast, "C26000", "0.800")])
    return project


def in_world(stage: str) -> Callable[[Cast], Project]:
    def make(cast: Cast) -> Project:
        world = make_world(cast)
        project = world.project(cast.seat)
        if stage in ("placing", "broke off", "proposed", "leaves over"):
            plan = world.plan([project])
            if stage in ("placing", "broke off"):
                CutPlan.objects.filter(pk=plan.pk).update(state="placing", answer=None)
                state = {"placing": "running", "broke off": "failed"}[stage]
                PlacingJob.objects.create(plan=plan, state=state)
            if stage == "leaves over":
                (placed,) = plan.answer["placements"]
                plan.answer["unplaced"] = [{"piece": placed["piece"], "copy": 0}]
                plan.answer["placements"] = []
                plan.save()
        elif stage != "approved":
            world.issued(project)
            Project.objects.filter(pk=project.pk).update(stage=stage)
        return project

    make.__name__ = stage
    return make


KINDS = [
    (none_yet, "pattern_upload", "your turn"),
    (only_shapes, "pattern_build", "your turn"),
    (emptied_shapes, "pattern_upload", "your turn"),
    (with_stops, "pattern", "your turn"),
    (with_a_metal_no_longer_allowed, "pattern", "your turn"),
    (built, "pattern", "your turn"),
    (handed, "pattern", "waiting"),
    (returned_file, "pattern", "your turn"),
    (returned_shapes, "pattern_build", "your turn"),
    (in_world("approved"), "project", "waiting"),
    (in_world("placing"), "plan", "waiting"),
    (in_world("broke off"), "plan", "waiting"),
    (in_world("proposed"), "plan", "waiting"),
    (in_world("leaves over"), "plan", "waiting"),
    (in_world("planned"), "plan", "your turn"),
    (in_world("bench"), "topic", "your turn"),
    (in_world("made"), "project", "your turn"),
    (in_world("closed"), "project", "finished"),
]


@pytest.mark.parametrize(("make", "place", "turn"), KINDS, ids=[row[0].__name__ for row in KINDS])
def test_both_pages_send_the_student_to_the_same_place(
    cast: Cast, make: Callable[[Cast], Project], place: str, turn: str
) -> None:
    project = make(cast)
    (thing,) = students_day(cast.owner)
    found = answer(project, cast.owner)
    assert (thing.next, thing.url) == (found.next, found.url)
    client = signed_in(cast.owner)
    first = words(client.get("/"))
    home = reverse("project", args=[project.pk])
    own = words(client.get(home))
    for page in (first, own):
        assert found.next.title in page
        assert found.next.text in page
    keys = {"pattern": project.patterns.values_list("pk", flat=True).first(), "topic": None}
    if place == "topic":
        assert found.url.startswith("/safety/")
    elif place == "plan":
        assert found.url == reverse("plan", args=[project.plan_shares.get().plan_id])
    else:
        assert found.url == reverse(place, args=[keys.get(place) or project.pk])
    assert f'href="{found.url}"' in first
    assert (f'href="{found.url}">{found.next.label}' in own) == found.elsewhere
    mark = {"your turn": "Your turn", "waiting": "Waiting", "finished": "Finished"}[turn]
    assert f">{mark}</span>" in first
    assert ("is-current" in first.split("trail", 1)[1]) == (turn == "your turn")
    asked = answer(project, cast.teacher)
    assert asked.next.title in words(signed_in(cast.teacher).get(home))


def test_a_finished_student_keeps_the_sheet_for_those_who_saw_from_it(cast: Cast) -> None:
    world: World = make_world(cast)
    mine, other = world.project(cast.seat), world.project(cast.classmate_seat)
    world.issued(mine, other)
    Project.objects.filter(pk=mine.pk).update(stage=Project.Stage.MADE)
    found = answer(mine, cast.owner)
    assert found.waiting
    assert "1 other still saws from the same metal" in found.next.text
    client, bench = signed_in(cast.owner), reverse("bench", args=[mine.pk])
    assert "Bring the metal" not in words(client.get("/"))
    assert found.next.text in words(client.get(bench))
    in_spanish = words(client.get(bench, {"lang": "es"}))
    assert "1 persona más sierra todavía del mismo metal" in in_spanish
    assert answer(mine, cast.teacher).waiting
    Project.objects.filter(pk=other.pk).update(stage=Project.Stage.MADE)
    assert "Bring the metal that is left" in answer(mine, cast.owner).next.text
    assert not answer(mine, cast.teacher).waiting


def test_nobody_waits_for_somebody_who_has_left(cast: Cast) -> None:
    world: World = make_world(cast)
    mine, other = world.project(cast.seat), world.project(cast.classmate_seat)
    world.issued(mine, other)
    Project.objects.filter(pk=mine.pk).update(stage=Project.Stage.MADE)
    Seat.objects.filter(pk=cast.classmate_seat.pk).update(left_at=timezone.now())
    assert "Bring the metal that is left" in answer(mine, cast.owner).next.text
    asked = answer(mine, cast.teacher)
    assert not asked.waiting
    assert asked.url == reverse("plan_return", args=[mine.plan_shares.get().plan_id])
    page = words(signed_in(cast.teacher).get("/"))
    assert "Metal to take back" in page
    assert ": 1 finished" in page


def test_a_placing_that_broke_off_is_the_teachers_turn(cast: Cast) -> None:
    project = in_world("broke off")(cast)
    found = answer(project, cast.teacher)
    assert (found.next.title, found.waiting) == ("The placing broke off", False)
    assert "Placing that broke off" in words(signed_in(cast.teacher).get("/"))


def test_a_pattern_built_from_shapes_is_not_sent_to_upload(cast: Cast) -> None:
    project = make_project(cast, make_brief(cast, max_width_mm="20"))
    pattern = build(project, DISC)
    page = words(signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk])))
    assert "Change the shapes and use the new drawing" in page
    with pytest.raises(Refused, match="Change the shapes"):
        hand_in(pattern, acting=cast.owner)


def test_what_is_next_asks_as_often_for_many_projects_as_for_one(cast: Cast) -> None:
    world = make_world(cast)
    own, other = world.project(cast.seat), world.project(cast.classmate_seat)
    world.issued(own, other)

    def asked(*projects: Project) -> int:
        with CaptureQueriesContext(connection) as log:
            rows = projects_for(cast.teacher).filter(pk__in=[one.pk for one in projects])
            whats_next(list(with_what_counts(rows)), cast.teacher)
        return len(log)

    assert asked(own, other) == asked(own)
