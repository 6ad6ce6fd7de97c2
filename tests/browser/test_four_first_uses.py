"""The four uses that come first, walked from sign-in to PDF at desk and at phone width."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from playwright.sync_api import expect

from classroom.safety.topics import seed_topics
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import Consumable, Metal
from inventory.spending import ledger
from studio.core.reading import Asked, Upload
from studio.models import Brief, CutPlan, Pattern
from studio.steps.patterns.answer import approve_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.start_project import start_project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.place import propose
from tests.people import Cast, make_cast

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
DRAWINGS = Path(settings.BASE_DIR) / "studio" / "demo" / "patterns"


@pytest.fixture
def cast(transactional_db: Any) -> Cast:
    people = make_cast()
    seed_topics(people.school)
    return people


@pytest.fixture
def copper(cast: Cast) -> Metal:
    metal = Metal.objects.create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal("0.812")
    )
    receiving.receive_purchase(
        cast.school,
        [SheetLine(metal, 1, Decimal("152.4"), Decimal("304.8"), total=Decimal("31.40"))],
        acting=cast.teacher,
        bought_on=cast.course.starts_on,
    )
    Consumable.objects.create(
        school=cast.school,
        name="Saw blades 2/0",
        kind="blade",
        unit="blade",
        price=Decimal("0.42"),
        priced_on=cast.course.starts_on,
        uses_per_unit=Decimal(18),
        per="cm_sawn",
    )
    return metal


@pytest.fixture
def brief(cast: Cast, copper: Metal) -> Brief:
    made = Brief.objects.create(
        course=cast.course,
        title="Harbour pendant",
        text="Something you see from the quay.",
        allowance=Decimal("4.00"),
        created_by=cast.teacher,
    )
    made.metals.add(copper)
    return made


def pdf_at(visitor: Visitor, link: str) -> bytes:
    """The PDF behind a print view's link, fetched as this visitor."""
    address = visitor.page.get_by_role("link", name=link).first.get_attribute("href")
    assert address is not None
    answer = visitor.page.request.get(visitor.base + address if address[0] == "/" else address)
    assert answer.status == 200, address
    return bytes(answer.body())


def test_a_teacher_sets_the_metal_budget_of_a_class(visitor: Visitor, cast: Cast) -> None:
    page = visitor.sign_in("marit.quay")
    visitor.look("1-today")
    visitor.go(reverse("course", args=[cast.course.pk]))
    visitor.look("1-course")
    visitor.go(reverse("budget", args=[cast.course.pk]))
    page.get_by_label("Amount").fill("120.50")
    page.get_by_label(re.compile("Reason|Why")).fill("Metal money for the term")
    page.get_by_role("button", name="Write it down").click()
    visitor.look("1-budget")
    assert ledger.open_budget(cast.course).left == Decimal("120.50")
    expect(page.get_by_text("120.50 USD").first).to_be_visible()
    expect(page.get_by_text("Metal money for the term")).to_be_visible()


def test_a_student_uploads_a_pattern_and_receives_a_cut_plan(
    visitor: Visitor, cast: Cast, brief: Brief
) -> None:
    page = visitor.sign_in("wren.t")
    visitor.look("2-today")
    visitor.go(reverse("brief", args=[brief.pk]))
    visitor.look("2-brief")
    page.get_by_role("button", name=re.compile("Start")).click()
    page.get_by_role("link", name="Bring a pattern").first.click()
    visitor.look("2-upload")
    page.locator("input[type=file]").set_input_files(DRAWINGS / "fish.svg")
    page.locator("main form button[type=submit]").first.click()
    page.wait_for_url("**/patterns/*/")
    visitor.look("2-pattern")
    page.get_by_role("button", name=re.compile("Hand in|Hand it in")).first.click()
    pattern = Pattern.objects.get()
    assert pattern.state == Pattern.State.HANDED_IN

    # The teacher's look, in the same minute; the worker places at once in tests.
    approve_pattern(pattern, acting=cast.teacher)
    plan = CutPlan.objects.get()
    assert plan.state == CutPlan.State.PROPOSED

    visitor.go("/")
    page.get_by_role("link", name=re.compile("See the cut plan|Watch")).click()
    page.wait_for_url(f"**/plans/{plan.pk}/")
    visitor.look("2-plan")
    assert page.locator("svg.drawing .d-piece, svg.drawing .d-piece-mine").count() >= 1
    expect(page.get_by_text("Saw blades 2/0").first).to_be_visible()
    visitor.go(reverse("pattern_sheet", args=[pattern.pk]))
    visitor.look("2-pattern-sheet")
    assert pdf_at(visitor, "PDF").startswith(b"%PDF")


def test_a_teacher_reviews_waste_and_cost_for_each_student(
    visitor: Visitor, cast: Cast, brief: Brief
) -> None:
    project = start_project(brief, cast.seat, acting=cast.owner)
    with (DRAWINGS / "fish.svg").open("rb") as file:
        pattern = read_in(project, Upload.taken(file, Asked("fish.svg")), acting=cast.owner)
    hand_in(pattern, acting=cast.owner)
    pattern.refresh_from_db()
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    project.refresh_from_db()
    ledger.allot(
        ledger.open_budget(cast.course), Decimal(50), acting=cast.teacher, reason="for the term"
    )
    plan = propose([project], acting=cast.teacher)
    approve_plan(CutPlan.objects.get(pk=plan.pk), acting=cast.teacher)
    issue_plan(CutPlan.objects.get(pk=plan.pk), acting=cast.teacher)
    quote = CutPlan.objects.get(pk=plan.pk).quotes.get()

    page = visitor.come_in("marit.quay")
    visitor.go(reverse("review"))
    visitor.look("3-review")
    visitor.go(reverse("course_review", args=[cast.course.pk]))
    visitor.look("3-course-review")
    expect(page.get_by_text("Wren T").first).to_be_visible()
    expect(page.get_by_text(f"{quote.total} USD").first).to_be_visible()
    csv = page.request.get(visitor.base + reverse("review_csv", args=[cast.course.pk]))
    assert csv.status == 200
    assert str(quote.total) in csv.text()
    visitor.go(reverse("review_print", args=[cast.course.pk]))
    assert pdf_at(visitor, "PDF").startswith(b"%PDF")


@pytest.mark.parametrize("username", ["marit.quay", "wren.t"])
def test_anyone_prints_the_safety_and_preparation_checklists(
    visitor: Visitor, cast: Cast, brief: Brief, username: str
) -> None:
    project = start_project(brief, cast.seat, acting=cast.owner)
    visitor.come_in(username)
    for kind in ("preparation", "safety"):
        visitor.go(reverse(f"{kind}_checklist", args=[project.pk]))
        visitor.look(f"4-{kind}-{username}")
        assert pdf_at(visitor, "PDF").startswith(b"%PDF")
