"""What own layouts saved or cost, and at a glance whose layout wastes most."""

from __future__ import annotations

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from shapely.geometry import box

from studio.models import Layout
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.issue import issue_plan
from tests.people import Cast, signed_in
from tests.studio.patterns.making import words
from tests.studio.plans import making
from tests.studio.review.named_figures import Page

from .laying import layout

pytestmark = pytest.mark.django_db


def two_layouts(cast: Cast) -> tuple[Layout, Layout]:
    """The owner's, better than the server's, and the classmate's, worse; both in one brief."""
    making.allot(cast)
    metal = making.copper(cast)
    sheet = making.stock(metal, "CU-1", box(0, 0, 150, 90), cost="13.50")
    brief = making.brief(cast, metal)
    first = layout(
        making.approved_project(brief, cast.seat, metal), [sheet], at=(2.0, 2.0), handed_in=True
    )
    second = layout(
        making.approved_project(brief, cast.classmate_seat, metal, making.TAG),
        [sheet],
        at=(60.0, 60.0),
        handed_in=True,
    )
    worth = {"piece_area_mm2": 800.0, "consumed_mm2": 900.0, "metal_price": "0.90"}
    first.figures, first.beside = worth, worth | {"consumed_mm2": 1000.0, "metal_price": "1.00"}
    second.figures = worth | {"consumed_mm2": 1600.0, "metal_price": "1.60"}
    second.beside = worth | {"consumed_mm2": 1400.0, "metal_price": "1.40"}
    first.save()
    second.save()
    return first, second


def own_figures(page: bytes) -> list[tuple[str, str]]:
    """What a page or a print tells of own layouts."""
    return [(name, text) for name, text in Page(page).figures if name.startswith("own_")]


def test_the_review_tells_what_own_layouts_saved_or_cost(cast: Cast) -> None:
    first, second = two_layouts(cast)
    plan = making.placed(cast, first.project, second.project)
    approve_plan(plan, acting=cast.teacher)
    issue_plan(plan, acting=cast.teacher)
    desk = signed_in(cast.teacher)
    address = reverse("course_review", args=[cast.course.pk])
    answer = desk.get(address)
    rows = answer.context["own_layouts"]
    assert [(row.saved_mm2, str(row.saved_price)) for row in rows] == [
        (100.0, "0.10"),
        (-200.0, "-0.20"),
    ]
    assert answer.context["own_together"].saved_mm2 == -100.0
    page = words(answer)
    assert "more used" in page
    assert "0.10 USD more" in page
    told = own_figures(answer.content)
    assert len(told) == 3 * 6
    assert own_figures(desk.get(reverse("review_print", args=[cast.course.pk])).content) == told
    text = desk.get(reverse("review_csv", args=[cast.course.pk])).content.decode("utf-8-sig")
    head, *lines = csv.reader(io.StringIO(text))
    assert head[-6:][2::3] == ["Own layout saved (mm²)", "Own layout saved (USD)"]
    by_name = {line[0]: line[-6:] for line in lines}
    assert by_name == {
        cast.owner.display_name: ["900.00", "1000.00", "100.00", "0.90", "1.00", "0.10"],
        cast.classmate.display_name: ["1600.00", "1400.00", "-200.00", "1.60", "1.40", "-0.20"],
        "Together": ["2500.00", "2400.00", "-100.00", "2.50", "2.40", "-0.10"],
    }
    Layout.objects.update(beside={})
    assert "What own layouts saved" not in words(desk.get(address))


def test_whose_layout_wastes_most_is_seen_at_a_glance(cast: Cast) -> None:
    first, _ = two_layouts(cast)
    assert first.project is not None
    desk = signed_in(cast.teacher)
    address = reverse("brief", args=[first.project.brief_id])
    rows = desk.get(address).context["rows"]
    told = {str(row["seat"].student): (row["layout_waste"], row["wastes_most"]) for row in rows}
    assert told[cast.owner.display_name] == (pytest.approx(1 / 9), False)
    assert told[cast.classmate.display_name] == (0.5, True)
    sorted_rows = desk.get(address, {"sort": "waste"}).context["rows"]
    assert [row["seat"].student for row in sorted_rows][:2] == [cast.classmate, cast.owner]
    with CaptureQueriesContext(connection) as with_two:
        desk.get(address, {"sort": "waste"})
    for seat in making.a_class(cast, 3):
        layout_of = making.approved_project(
            first.project.brief, seat, first.project.metal, making.TAG
        )
        Layout.objects.create(
            project=layout_of,
            number=1,
            owner=seat.student,
            job=first.job,
            figures=first.figures,
            chosen=True,
            handed_in_at=first.handed_in_at,
        )
    with CaptureQueriesContext(connection) as with_five:
        page = words(desk.get(address, {"sort": "waste"}))
    assert len(with_five) == len(with_two)
    assert "the most" in page
