"""What a worker draws up is the very paper that the page itself would have shown."""

from __future__ import annotations

import datetime as dt
import threading
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom.models import PrinterCheck, Topic
from classroom.papers import printing
from classroom.papers.requests import AskedPaper, PaperRequest
from classroom.papers.turns import Turns
from classroom.safety.incidents import write_down
from inventory.buying import ordering
from inventory.rack import counting
from studio.models import Errand, Pattern
from studio.prints.bench import checklists
from studio.running.errands import lease, papers
from studio.views.prints.printer_choice import COOKIE
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_world
from tests.studio.patterns.making import words

from .making import follow, newest, work

NOON = "2026-11-30T16:00:00Z"
HOST = {"headers": {"host": "bench.example:8443"}, "secure": True}


@pytest.fixture(autouse=True)
def hosts(settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["bench.example", "testserver"]


def work_elsewhere(settings: Any) -> None:
    """By a worker on another machine, which was never told the school's hosts."""
    known, settings.ALLOWED_HOSTS = settings.ALLOWED_HOSTS, []
    work()
    settings.ALLOWED_HOSTS = known


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
    """Addresses that a worker draws up, from all apps; a teacher may print them all."""
    project = world.project(world.cast.seat)
    plan = world.issued(project, world.project(world.cast.classmate_seat))
    course = world.cast.course.pk
    count = counting.open_count(world.cast.school, None, acting=world.cast.teacher)
    purchase = world.sheets[0].purchase_line
    assert purchase is not None
    teacher = world.cast.teacher
    order = ordering.write_order(
        world.cast.school,
        [ordering.OrderLine(world.metal, 4, Decimal("152.4"), Decimal("304.8"))],
        acting=teacher,
        ordered_on=dt.date(2026, 11, 2),
    )
    incident = write_down(
        {
            "kind": "near_miss",
            "happened_at": dt.datetime(2026, 11, 25, 14, 30, tzinfo=dt.UTC),
            "place": "Drill press, bay 2",
            "course": world.cast.course,
            "topic": None,
            "tool": "",
            "what": "The key was left in the chuck.",
            "told": "Head of department",
            "changed": "",
        },
        seats=[world.cast.seat],
        acting=teacher,
    )
    return [
        reverse("pattern_sheet", args=[Pattern.objects.get(project=project).pk]),
        reverse("placement_sheet", args=[plan.pk]),
        reverse("cut_plan_print", args=[plan.pk]),
        reverse("preparation_checklist", args=[project.pk]),
        reverse("safety_checklist", args=[project.pk]),
        reverse("class_preparation_checklist", args=[course]),
        reverse("class_safety_checklist", args=[course]),
        reverse("class_bag_labels", args=[course]),
        reverse("review_print", args=[course]),
        reverse("student_record", args=[world.cast.seat.pk]),
        reverse("rack_order_print"),
        reverse("order_print", args=[order.pk]),
        reverse("incident_print", args=[incident.pk]),
        reverse("stock_label", args=[world.sheets[0].pk]),
        reverse("purchase_labels", args=[purchase.purchase_id]),
        reverse("count_sheet", args=[count.pk]),
        reverse("permit_cards", args=[course]),
        reverse("permit_status", args=[course]),
        reverse("guardian_print", args=[course]),
        reverse("topic_sheets"),
        reverse("topic_sheet", args=[Topic.objects.filter(school=world.cast.school)[0].pk]),
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
    settings: Any,
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
            work_elsewhere(settings)
            assert newest().state == Errand.State.DONE, (address, newest().trouble)
            assert len(drawn) == 2, address
            assert drawn[0] == drawn[1], address


def test_a_students_plan_shows_what_the_students_own_page_shows(
    world: World, drawn: list[tuple[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = world.issued(world.project(world.cast.seat), world.project(world.cast.classmate_seat))
    client = signed_in(world.cast.owner)
    with time_machine.travel(NOON, tick=False):
        for name in ("cut_plan_print", "placement_sheet"):
            drawn.clear()
            address = reverse(name, args=[plan.pk])
            directly(monkeypatch, client, address)
            client.get(address, {"as": "pdf"}, **HOST)
            work()
            assert drawn[0] == drawn[1], name
            assert "Odd F" not in drawn[1][0]


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


def test_what_changed_since_a_paper_was_drawn_up_is_on_the_next(
    cast: Cast, drawn: list[tuple[str, str]]
) -> None:
    client = signed_in(cast.teacher)
    address = reverse("class_safety_checklist", args=[cast.course.pk])
    first = client.get(address, {"as": "pdf"}).url
    lease.claim(newest().pk, "desk/1")  # drawn up by now, and its PDF in the making
    assert client.get(address, {"as": "pdf"}).url != first


def test_a_worker_that_ends_makes_no_more_paper(
    cast: Cast, drawn: list[tuple[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    address = reverse("class_safety_checklist", args=[cast.course.pk])
    signed_in(cast.teacher).get(address, {"as": "pdf"})
    ending = threading.Event()
    ending.set()
    monkeypatch.setattr(papers, "ENDING", ending)
    work()
    assert drawn == []
    assert (newest().state, newest().attempts) == (Errand.State.QUEUED, 0)


@pytest.mark.parametrize(
    ("host", "name", "port"),
    [
        ("bench.example", "bench.example", "443"),
        ("bench.example:8443", "bench.example", "8443"),
        ("[::1]", "::1", "443"),
        ("[::1]:8000", "::1", "8000"),
    ],
)
def test_the_request_once_more_names_host_and_port(
    cast: Cast, host: str, name: str, port: str
) -> None:
    asked = AskedPaper("/print/safety/", "", host, True, {})
    request = PaperRequest(asked, cast.teacher)
    assert request.get_host() == host
    assert (request.META["SERVER_NAME"], request.get_port()) == (name, port)
    assert request.build_absolute_uri("/rack/1/") == f"https://{host}/rack/1/"


def test_a_head_request_makes_no_paper(cast: Cast) -> None:
    client = signed_in(cast.teacher)
    for name in ("permit_cards", "permit_status", "guardian_print", "class_safety_checklist"):
        answer = client.head(reverse(name, args=[cast.course.pk]), {"as": "pdf"})
        assert answer.status_code == 405, name
    assert not Errand.objects.exists()


def test_a_print_view_is_drawn_by_turns_and_its_pdf_needs_none(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    monkeypatch.setattr(printing, "IN_THE_WEB", Turns(waiting=0, each=1, seconds=0.0))
    client = signed_in(cast.teacher)
    address = reverse("class_safety_checklist", args=[cast.course.pk])
    with printing.IN_THE_WEB.turn(0):
        answer = client.get(address)
        assert answer.status_code == 503
        told = [one.levelname for one in caplog.records if one.name == "django.request"]
        assert told == ["INFO"]  # many at once are no fault
        assert int(answer["Retry-After"]) > 0
        assert "Try in a moment" in words(answer)
        assert client.get(address, {"as": "pdf"}).url == reverse("errand", args=[newest().token])
        assert client.get(reverse("capture_frame")).status_code == 200  # short, so at once
    assert client.get(address).status_code == 200


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
