"""The bench page of one project: for its student, its teacher, and nobody else."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils.html import escape
from time_machine import Traveller

from classroom.models import User
from classroom.safety.permits import withdraw
from studio.models import Project, SignOff
from studio.steps.bench.sign import override_step, send_back, sign_done, start_step
from studio.views.bench.class_bench import class_bench_of
from tests.people import signed_in

from .making import World, do_steps, make_it, step_of


def page(person: User, project: Project) -> str:
    answer = signed_in(person).get(reverse("bench", args=[project.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_who_may_see_it(world: World, project: Project) -> None:
    cast = world.cast
    url = reverse("bench", args=[project.pk])
    seen = {
        person.display_name: signed_in(person).get(url).status_code
        for person in (cast.teacher, cast.owner, cast.classmate, cast.other_teacher, cast.outsider)
    }
    assert list(seen.values()) == [200, 200, 404, 404, 404]


POSTS = {
    "step_start": [403, 302, 404, 403],
    "step_done": [403, 302, 404, 403],
    "step_check": [302, 403, 403, 404],
    "step_send_back": [200, 403, 403, 404],
    "step_override": [200, 403, 403, 404],
}
"""Teacher, owner, classmate, outsider; 200 is the form again, because nothing was filled in."""


@pytest.mark.parametrize("name", POSTS)
def test_who_may_press_what(world: World, project: Project, name: str) -> None:
    cast = world.cast
    start_step(step_of(project, "prepare"), acting=cast.owner)
    url = reverse(name, args=[step_of(project, "prepare").pk])
    people = (cast.teacher, cast.owner, cast.classmate, cast.outsider)
    answers = []
    for person in people:
        answer = signed_in(person).post(url, headers={"referer": "http://testserver/"})
        answers.append(answer.status_code)
    assert answers == POSTS[name]


@pytest.mark.parametrize("name", POSTS)
def test_a_link_alone_signs_nothing(world: World, project: Project, name: str) -> None:
    person = world.cast.teacher if POSTS[name][0] != 403 else world.cast.owner
    answer = signed_in(person).get(reverse(name, args=[step_of(project, "prepare").pk]))
    assert answer.status_code == 405


def test_the_student_starts_and_signs_by_plain_forms(world: World, project: Project) -> None:
    client = signed_in(world.cast.owner)
    step = step_of(project, "prepare")
    text = page(world.cast.owner, project)
    assert f'action="{reverse("step_start", args=[step.pk])}"' in text
    assert f'action="{reverse("step_done", args=[step.pk])}"' not in text
    answer = client.post(reverse("step_start", args=[step.pk]), follow=True)
    assert f'action="{reverse("step_done", args=[step.pk])}"' in answer.content.decode()
    answer = client.post(reverse("step_done", args=[step.pk]), follow=True)
    text = answer.content.decode()
    assert "“Prepare the metal” is done." in text
    assert "Step 2 of 7" in text


def test_a_double_tap_is_answered_like_a_single_one(world: World, project: Project) -> None:
    client = signed_in(world.cast.owner)
    step = step_of(project, "prepare")
    for name in ("step_start", "step_start", "step_done", "step_done"):
        answer = client.post(reverse(name, args=[step.pk]))
        assert (answer.status_code, answer["Location"]) == (
            302,
            reverse("bench", args=[project.pk]),
        )
    assert SignOff.objects.count() == 2


def test_the_step_that_is_on_shows_all_that_is_signed(world: World, project: Project) -> None:
    text = page(world.cast.owner, project)
    wording = step_of(project, "prepare").wording
    for words in ("do", "right_when", "cautions", "needs"):
        for line in wording[words]:
            assert escape(line) in text
    assert "come first. Where they differ from this page, follow them." in text


def test_the_cut_plan_whose_order_is_sawn_is_one_press_away(world: World, project: Project) -> None:
    url = reverse("plan", args=[project.plan_shares.get().plan_id])
    assert f'href="{url}"' in page(world.cast.owner, project)
    assert signed_in(world.cast.owner).get(url).status_code == 200


def test_a_missing_permit_is_named_with_who_can_help(world: World, project: Project) -> None:
    permit = world.cast.owner.permits.get(topic__code="abrasives-dust")
    withdraw(permit, acting=world.cast.teacher, reason="goggles left on the bench")
    text = page(world.cast.owner, project)
    assert "which Wren T does not hold today. A teacher gives it" in text
    assert "withdrawn" in text
    assert "goggles left on the bench" in text
    assert f'action="{reverse("step_start", args=[step_of(project, "prepare").pk])}"' not in text


def test_a_permit_that_ran_out_is_shown_with_its_date(
    world: World, project: Project, clock: Traveller
) -> None:
    clock.shift(dt.timedelta(days=366))
    assert "ran out on 25 November 2027" in page(world.cast.owner, project)


def test_a_wait_names_its_end_on_the_schools_clock_and_has_no_button(
    world: World, project: Project, clock: Traveller
) -> None:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    text = page(world.cast.owner, project)
    assert "<strong>10:20</strong>" in text
    assert 'data-wait-until="2026-11-25T10:20:00-04:00"' in text
    assert f'action="{reverse("step_done", args=[step.pk])}"' not in text
    assert "common practice, no source" in text
    clock.shift(dt.timedelta(minutes=20))
    text = page(world.cast.owner, project)
    assert "The waiting time is over." in text
    assert f'action="{reverse("step_done", args=[step.pk])}"' in text


def test_a_refused_press_comes_back_as_a_message(
    world: World, project: Project, clock: Traveller
) -> None:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    bench = "http://testserver" + reverse("bench", args=[project.pk])
    answer = signed_in(world.cast.owner).post(
        reverse("step_done", args=[step.pk]), headers={"referer": bench}, follow=True
    )
    assert "can be signed from 10:20, and not before" in answer.content.decode()


def test_a_remark_of_the_teacher_stands_on_the_open_step(
    world: World, project: Project, clock: Traveller
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="<b>dark</b> spots")
    text = page(world.cast.owner, project)
    assert "Sent back by Marit Quay" in text
    assert "“&lt;b&gt;dark&lt;/b&gt; spots”" in text


def test_the_picture_says_where_to_rub(world: World, project: Project) -> None:
    """The piece of 30 × 20 mm lies 2 mm from both edges; its paper reaches 1.5 mm further."""
    text = page(world.cast.owner, project)
    assert "Rub only the filled area" in text
    assert re.search(
        r"starts 0\.5 mm from the left and 0\.5 mm from the bottom, "
        r"and is 33\.0 mm wide and 23\.0 mm high",
        text,
    )


def test_the_teacher_sends_back_with_a_reason_and_is_asked_for_a_missing_one(
    world: World, project: Project, clock: Traveller
) -> None:
    do_steps(project, "adhere", clock, world.cast)
    client = signed_in(world.cast.teacher)
    url = reverse("step_send_back", args=[step_of(project, "prepare").pk])
    answer = client.post(url, {"reason": " "})
    assert answer.status_code == 200
    assert "Say what is to be done better." in answer.content.decode()
    answer = client.post(url, {"reason": "dark spots"}, follow=True)
    assert "is open again for Wren T" in answer.content.decode()
    assert step_of(project, "prepare").started_at is None


def test_a_refused_override_keeps_what_was_typed(
    world: World, project: Project, clock: Traveller
) -> None:
    step = do_steps(project, "dry", clock, world.cast)
    start_step(step, acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step, acting=world.cast.owner)
    answer = signed_in(world.cast.teacher).post(
        reverse("step_override", args=[step.pk]),
        {"way": "mark_done", "reason": "I saw it myself"},
    )
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "check it instead" in text
    assert "I saw it myself" in text


def test_the_teacher_sets_a_wait_aside_and_it_is_kept_in_words(
    world: World, project: Project, clock: Traveller
) -> None:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    answer = signed_in(world.cast.teacher).post(
        reverse("step_override", args=[step.pk]),
        {"way": "go_on", "reason": "dried since yesterday"},
        follow=True,
    )
    text = answer.content.decode()
    assert "lifted a rule for “Let it dry” (the waiting time)" in text
    assert "dried since yesterday" in text


def test_a_check_of_what_has_changed_since_is_refused(
    world: World, project: Project, clock: Traveller
) -> None:
    step = start_step(do_steps(project, "dry", clock, world.cast), acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step, acting=world.cast.owner)
    text = page(world.cast.teacher, project)
    seen = re.search(r'name="seen" value="([^"]+)"', text)
    assert seen is not None
    send_back(step, acting=world.cast.teacher, reason="still damp")
    start_step(step, acting=world.cast.owner)
    clock.shift(dt.timedelta(minutes=20))
    sign_done(step, acting=world.cast.owner)
    signed_in(world.cast.teacher).post(
        reverse("step_check", args=[step.pk]),
        {"seen": seen[1].replace("&#x2B;", "+")},
        headers={"referer": "http://testserver/"},
    )
    assert step_of(project, "dry").done_at is None


def test_a_step_let_through_out_of_its_order_can_be_signed(world: World, project: Project) -> None:
    step = step_of(project, "drill")
    override_step(step, acting=world.cast.teacher, reason="the drill press is free only today")
    text = page(world.cast.owner, project)
    assert f'action="{reverse("step_done", args=[step.pk])}"' in text
    assert f'action="{reverse("step_start", args=[step_of(project, "prepare").pk])}"' in text
    sign_done(step, acting=world.cast.owner)
    asking = class_bench_of(world.cast.teacher, world.cast.course).to_check.rows
    assert [row.step.kind for row in asking] == ["drill"]


@pytest.mark.parametrize("stage", list(Project.Stage))
def test_every_stage_has_its_page_for_both(world: World, project: Project, stage: str) -> None:
    Project.objects.filter(pk=project.pk).update(stage=stage)
    for person in (world.cast.owner, world.cast.teacher):
        assert "Traceback" not in page(person, project)


def test_a_made_project_offers_no_step_to_press(
    world: World, project: Project, clock: Traveller
) -> None:
    make_it(project, clock, world.cast)
    text = page(world.cast.owner, project)
    assert "Made!" in text
    assert "/start/" not in text
    assert "/done/" not in text
    assert "checked “Finish the piece”" in text


def test_no_page_says_that_anything_is_safe(world: World, project: Project) -> None:
    for person in (world.cast.owner, world.cast.teacher):
        text = page(person, project).lower()
        assert "is safe" not in text
        assert "are safe" not in text
        assert "compliant" not in text


def test_a_late_form_never_signs_work_that_was_sent_back_and_begun_anew(
    world: World, project: Project, clock: Traveller
) -> None:
    """The answer to the first sign-off was lost; the phone sends the same form again later."""
    cast = world.cast
    owner = signed_in(cast.owner)
    start_step(step_of(project, "prepare"), acting=cast.owner)
    form = re.search(r'name="started" value="([^"]+)"', page(cast.owner, project))
    assert form is not None
    sent = {"started": form[1]}
    url = reverse("step_done", args=[step_of(project, "prepare").pk])
    headers = {"Accept": "application/json"}
    there = {"go": reverse("bench", args=[project.pk])}
    assert owner.post(url, sent, headers=headers).json() == there
    assert owner.post(url, sent, headers=headers).json() == there
    send_back(step_of(project, "prepare"), acting=cast.teacher, reason="dark spots")
    clock.shift(dt.timedelta(minutes=2))
    start_step(step_of(project, "prepare"), acting=cast.owner)
    late = owner.post(url, sent, headers=headers)
    assert late.status_code == 409
    assert "started anew" in late.json()["text"]
    assert step_of(project, "prepare").student_signed_at is None
    assert SignOff.objects.filter(kind="done").count() == 1


def test_what_is_refused_is_said_beside_the_button(world: World) -> None:
    project = world.at_bench()  # without any permit
    url = reverse("step_start", args=[step_of(project, "prepare").pk])
    answer = signed_in(world.cast.owner).post(url, headers={"Accept": "application/json"})
    assert answer.status_code == 409
    assert "needs the bench permit" in answer.json()["text"]
