"""What a worker draws up is the very paper that the page itself would have shown."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom import printing
from classroom.models import PrinterCheck
from studio.errands import papers
from studio.models import Errand, Pattern
from studio.prints import checklists
from studio.views.printer_choice import COOKIE
from tests.people import Cast
from tests.studio.bench.making import World, make_world
from tests.studio.patterns.making import signed_in, words

from .making import follow, newest, work

NOON = "2026-11-30T16:00:00Z"
HOST = {"headers": {"host": "bench.example:8443"}, "secure": True}


@pytest.fixture(autouse=True)
def any_host(settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["bench.example", "testserver"]


@pytest.fixture
def world(cast: Cast) -> World:
    return make_world(cast)


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """The HTML and format of all papers, in place of their PDF."""
    seen: list[tuple[str, str]] = []

    def note(html: str, paper: str) -> bytes:
        seen.append((html, paper))
        return b"%PDF-"

    monkeypatch.setattr(papers, "pdf_apart", note)
    monkeypatch.setattr(printing, "html_to_pdf", note)
    return seen


def long_papers(world: World) -> list[str]:
    """One address of each kind that a worker draws up; a teacher may print them all."""
    project = world.project(world.cast.seat)
    plan = world.issued(project, world.project(world.cast.classmate_seat))
    course = world.cast.course.pk
    return [
        reverse("pattern_sheet", args=[Pattern.objects.get(project=project).pk]),
        reverse("placement_sheet", args=[plan.pk]),
        reverse("cut_plan_print", args=[plan.pk]),
        reverse("preparation_checklist", args=[project.pk]),
        reverse("class_preparation_checklist", args=[course]),
        reverse("class_safety_checklist", args=[course]),
        reverse("class_bag_labels", args=[course]),
        reverse("review_print", args=[course]),
        reverse("student_record", args=[world.cast.seat.pk]),
        reverse("rack_order_print"),
        reverse("stock_label", args=[world.sheets[0].pk]),
        reverse("permit_cards", args=[course]),
        reverse("permit_status", args=[course]),
        reverse("guardian_print", args=[course]),
        reverse("topic_sheets"),
    ]


def directly(monkeypatch: pytest.MonkeyPatch, client: Client, address: str, **asked: str) -> None:
    """As where the studio gives no way to make papers elsewhere."""
    with monkeypatch.context() as patch:
        patch.setattr(printing, "_ways", [])
        client.get(address, {"as": "pdf", **asked}, **HOST)


@pytest.mark.parametrize("lang", ["en", "es"])
def test_the_worker_draws_up_the_paper_that_the_page_would(
    world: World,
    drawn: list[tuple[str, str]],
    monkeypatch: pytest.MonkeyPatch,
    lang: str,
) -> None:
    teacher = world.cast.teacher
    printer = PrinterCheck.objects.create(
        school=world.cast.school,
        name="By the window",
        across_mm="99.0",
        up_mm="100.0",
        measured_by=teacher,
    )
    client = signed_in(teacher)
    client.cookies[COOKIE] = str(printer.pk)
    with time_machine.travel(NOON, tick=False):
        for address in long_papers(world):
            drawn.clear()
            directly(monkeypatch, client, address, lang=lang)
            client.get(address, {"as": "pdf", "lang": lang}, **HOST)
            work()
            assert newest().state == Errand.State.DONE, (address, newest().trouble)
            assert len(drawn) == 2, address
            assert drawn[0] == drawn[1], address


def test_a_students_choice_of_language_goes_along(
    world: World, drawn: list[tuple[str, str]]
) -> None:
    project = world.project(world.cast.seat)
    client = signed_in(world.cast.owner)
    client.get(reverse("safety_checklist", args=[project.pk]), {"lang": "es"})
    client.get(reverse("safety_checklist", args=[project.pk]), {"as": "pdf"})
    work()
    assert '<html lang="es"' in drawn[0][0]


def test_the_request_draws_nothing_up(
    cast: Cast, drawn: list[tuple[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    address = reverse("class_safety_checklist", args=[cast.course.pk])
    client = signed_in(cast.teacher)
    with monkeypatch.context() as patch:
        patch.setattr(checklists, "class_safety_context", lambda _: pytest.fail("in the page"))
        patch.setattr(printing, "render_to_string", lambda *_, **__: pytest.fail("in the page"))
        answer = client.get(address, {"as": "pdf"})
    assert answer.url == reverse("errand", args=[newest().token])
    assert drawn == []
    work()
    assert len(drawn) == 1


def test_what_is_out_of_reach_is_never_queued(cast: Cast) -> None:
    address = reverse("class_safety_checklist", args=[cast.course.pk])
    assert signed_in(cast.outsider).get(address, {"as": "pdf"}).status_code == 404
    assert signed_in(cast.owner).get(address, {"as": "pdf"}).status_code == 403
    assert not Errand.objects.exists()


def test_what_is_out_of_reach_by_the_time_it_is_made_is_not_made(
    cast: Cast, drawn: list[tuple[str, str]]
) -> None:
    client = signed_in(cast.teacher)
    client.get(reverse("class_safety_checklist", args=[cast.course.pk]), {"as": "pdf"})
    cast.course.teachers.remove(cast.teacher)
    work()
    assert drawn == []
    assert "is not there any more" in words(follow(client))


def test_nothing_is_made_for_somebody_whose_account_was_closed(
    cast: Cast, drawn: list[tuple[str, str]]
) -> None:
    client = signed_in(cast.teacher)
    client.get(reverse("class_safety_checklist", args=[cast.course.pk]), {"as": "pdf"})
    cast.teacher.is_active = False
    cast.teacher.save()
    work()
    assert drawn == []
    assert newest().trouble
