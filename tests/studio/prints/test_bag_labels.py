"""Labels for project bags: one for each project that needs a bag, with its own address."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.models import Project
from studio.prints.bench.bag_labels import bag_labels
from tests.people import signed_in
from tests.studio.bench.making import World

from .reading_pdf import open_pdf


def visit(person: Any, name: str, pk: int, **query: str) -> Any:
    client = signed_in(person)
    return client.get(reverse(name, args=[pk]), query)


def test_each_label_carries_the_address_of_its_own_bench_page(world: World) -> None:
    asked: list[str] = []

    def address(path: str) -> str:
        asked.append(path)
        return f"https://bench.example{path}"

    pair = [world.project(world.cast.classmate_seat), world.project(world.cast.seat)]
    labels = bag_labels(world.cast.course, address)
    assert [str(label.project.student) for label in labels] == ["Odd F", "Wren T"]
    assert asked == [f"/projects/{project.pk}/bench/" for project in pair]
    assert labels[0].qr != labels[1].qr


@pytest.mark.parametrize("stage", ["drawing", "handed_in", "returned", "closed"])
def test_who_needs_no_bag_gets_no_label(world: World, stage: str) -> None:
    project = world.project(world.cast.seat)
    Project.objects.filter(pk=project.pk).update(stage=stage)
    page = visit(world.cast.teacher, "class_bag_labels", world.cast.course.pk).content.decode()
    assert "Wren T" not in page
    assert "No project of this course needs a bag now" in page


def test_the_label_names_student_brief_metal_and_plan(world: World) -> None:
    project = world.at_bench()
    plan = project.plan_shares.get().plan
    page = visit(world.cast.owner, "bag_label", project.pk).content.decode()
    for words in ("Wren T", "Key tag", "Copper 20 ga", f"cut plan {plan.pk}", "Metals 1, B"):
        assert words in page


def test_any_class_asks_the_same_number_of_questions(world: World) -> None:
    world.project(world.cast.seat)
    with CaptureQueriesContext(connection) as one:
        visit(world.cast.teacher, "class_bag_labels", world.cast.course.pk)
    world.project(world.cast.classmate_seat)
    with CaptureQueriesContext(connection) as two:
        visit(world.cast.teacher, "class_bag_labels", world.cast.course.pk)
    assert len(one) == len(two)


@pytest.mark.usefixtures("pango")
def test_the_sheet_is_a_pdf_with_a_name_on_every_label(world: World) -> None:
    world.project(world.cast.seat)
    world.project(world.cast.classmate_seat)
    answer = visit(world.cast.teacher, "class_bag_labels", world.cast.course.pk, **{"as": "pdf"})
    text = "".join(page.extract_text() for page in open_pdf(answer.content).pages)
    assert "Odd F" in text
    assert "Wren T" in text
