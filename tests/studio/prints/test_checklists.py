"""Checklists: every line of the house, the school's own rules, and room to sign."""

from __future__ import annotations

import re
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.models import Role, Seat, Topic, User
from classroom.safety.texts import CLASS_CHECKLIST, DEFERRAL, PREPARATION_CHECKLIST
from studio.core.bench.texts import BenchStepKind
from studio.prints.bench.checklists import ALWAYS, class_preparation_context, works
from studio.steps.bench.wording import reword
from tests.people import signed_in
from tests.studio.bench.making import World, give_permits


def page(person: User, name: str, pk: int) -> str:
    client = signed_in(person)
    answer: Any = client.get(reverse(name, args=[pk]))
    assert answer.status_code == 200
    return re.sub(r"&#x27;", "'", answer.content.decode())


def test_the_preparation_list_has_every_line_and_names_the_metal(world: World) -> None:
    project = world.at_bench()
    text = page(world.cast.owner, "preparation_checklist", project.pk)
    for line in PREPARATION_CHECKLIST:
        assert line.text in text
    assert world.sheets[0].code in text
    assert "Prepare the metal" in text  # the step that comes next
    assert "Saw frame with a 2/0 blade" in text
    assert text.count('class="sign"') == 2


def test_before_the_metal_is_out_the_list_foresees_the_steps(world: World) -> None:
    project = world.project(world.cast.seat)
    text = page(world.cast.owner, "preparation_checklist", project.pk)
    assert "not planned yet" in text
    assert "Saw frame with a 2/0 blade" in text


def test_before_the_metal_is_out_the_steps_are_in_the_schools_own_words(world: World) -> None:
    project = world.project(world.cast.seat)
    reword(
        world.cast.school,
        BenchStepKind.SAW,
        do=("Saw as the harbour saws.",),
        right_when=("It is sawn.",),
        mistakes=(),
        seen=0,
        acting=world.cast.teacher,
    )
    (work,) = works([project])
    (saw,) = (step for step in work.steps if step.kind is BenchStepKind.SAW)
    assert "Saw as the harbour saws." in saw.do


def test_a_project_without_a_pattern_still_has_its_list(world: World) -> None:
    project = world.project(world.cast.seat)
    project.patterns.all().delete()
    assert "Preparation checklist" in page(world.cast.owner, "preparation_checklist", project.pk)
    text = page(world.cast.owner, "safety_checklist", project.pk)
    for line in ALWAYS:
        assert line.text in text
    assert "every topic of the school stands here" in text
    assert "Hand and bench shears" in text


def test_every_sheet_defers_and_none_promises_anything(world: World) -> None:
    project = world.at_bench()
    course = world.cast.course.pk
    sheets = [
        page(world.cast.owner, "preparation_checklist", project.pk),
        page(world.cast.owner, "safety_checklist", project.pk),
        page(world.cast.teacher, "class_preparation_checklist", course),
        page(world.cast.teacher, "class_safety_checklist", course),
    ]
    for text in sheets:
        assert DEFERRAL in text
        assert not re.search(r"\b(is|are) (safe|compliant)\b", text)
    plan = page(world.cast.teacher, "cut_plan_print", project.plan_shares.get().plan_id)
    assert "school policy" in plan


def test_the_safety_list_has_the_topics_of_the_projects_steps_in_the_schools_words(
    world: World,
) -> None:
    Topic.objects.filter(code="saw-frame").update(
        title="Piercing frame", lesson=["Our own sentence."], checks=["Our own check."]
    )
    project = world.at_bench()
    text = page(world.cast.owner, "safety_checklist", project.pk)
    for words in ("Piercing frame", "Our own sentence.", "Our own check.", "Drill press"):
        assert words in text
    assert "Hand and bench shears" not in text  # no step of this project asks for it
    assert all(line.text in text for line in ALWAYS)


def test_a_permit_in_force_is_named_with_its_giver_and_its_end(world: World) -> None:
    give_permits(world.cast, world.cast.owner, "saw-frame")
    project = world.at_bench()
    text = page(world.cast.owner, "safety_checklist", project.pk)
    assert "Bench permit given by Marit Quay" in text
    assert "No bench permit in force" in text  # for the other topics


def test_the_class_list_has_every_line_four_answers_and_everybodys_signature(
    world: World,
) -> None:
    school = world.cast.school
    school.local_rules = "Goggles from the blue cupboard only."
    school.save()
    text = page(world.cast.teacher, "class_safety_checklist", world.cast.course.pk)
    for line in CLASS_CHECKLIST:
        assert line.text in text
    assert text.count('class="answer-box"') == 4 * len(CLASS_CHECKLIST)
    for name in ("Wren T", "Odd F", school.local_rules):
        assert name in text


def test_who_has_left_the_course_is_not_on_its_lists(world: World) -> None:
    Seat.objects.filter(pk=world.cast.classmate_seat.pk).update(left_at="2026-11-01T08:00:00Z")
    text = page(world.cast.teacher, "class_safety_checklist", world.cast.course.pk)
    assert "Odd F" not in text


def test_a_class_list_takes_as_many_queries_for_nine_as_for_one(world: World) -> None:
    world.issued(world.project(world.cast.seat))

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            class_preparation_context(world.cast.course)
        return len(caught)

    before = queries()
    for number in range(8):
        student = User.objects.create_user(
            f"more.{number}",
            "x-1",
            display_name=f"More {number}",
            role=Role.STUDENT,
            school=world.cast.school,
        )
        project = world.project(Seat.objects.create(course=world.cast.course, student=student))
        type(project).objects.filter(pk=project.pk).update(stage="planned")
    assert queries() == before


def test_every_checklist_reads_in_spanish_where_it_is_asked_for(world: World) -> None:
    project = world.at_bench()
    client = signed_in(world.cast.teacher)
    for name, pk, words in (
        ("preparation_checklist", project.pk, "El grosor se ha medido con un calibre"),
        ("class_preparation_checklist", world.cast.course.pk, "Metal del estante"),
        ("safety_checklist", project.pk, "Arco de sierra"),
        ("class_safety_checklist", world.cast.course.pk, "Hay buena luz en todos los bancos"),
    ):
        answer: Any = client.get(f"{reverse(name, args=[pk])}?lang=es")
        text = answer.content.decode()
        assert words in text, name
        assert 'lang="es"' in text
        assert "Las normas locales" in text
