"""Every page, file and print that tells of a closed plan tells the same figures.

The plan is the only one of its course and has one project, so what the plan, the project, the
student and the course used is one and the same. Templates name their figures by `data-figure`;
columns of the files are named here.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader
from shapely.geometry import Polygon

from classroom.figures.rounding import percent_of
from classroom.figures.units import format_mass
from studio.models import CutPlan
from studio.steps.rack.correct_scrap import correct_scrap
from tests.people import Cast, signed_in
from tests.studio.bench.making import make_world

from .conftest import close
from .named_figures import Page

Told = dict[str, dict[str, set[str]]]
"""By the figure's name: each text that it has, with the places where it reads so."""

WEDGE = Polygon([(0, 0), (41.3, 2.6), (37.9, 18.4), (20.1, 12.2), (3.7, 23.9)])
COLUMNS = {
    "Metal handed out (g)": "issued_g",
    "In pieces (g)": "pieces_g",
    "Offcuts (g)": "kept_g",
    "Scrap (g)": "scrap_g",
    "Kerf (g)": "kerf_g",
    "Waste share of the metal used up (%)": "waste_of_used",
    "Metal (USD)": "metal_price",
    "Supplies (USD)": "consumables",
    "Together (USD)": "price",
    "Allowance (USD)": "allowance",
}


@pytest.fixture
def plan(clock: time_machine.Traveller, cast: Cast) -> CutPlan:
    world = make_world(cast, sheets=1)
    made = world.issued(world.project(cast.seat, WEDGE), places=[(2.41, 3.07)])
    # As earlier plans measured it; measured anew the rectangle is a little larger.
    assert made.answer is not None
    longer, shorter = made.answer["measures"]["largest_rectangle_mm"]
    made.answer["measures"]["largest_rectangle_mm"] = [longer - 0.5, shorter - 0.3]
    made.save()
    close(world, made)
    return made


def told_on(client: Client, url: str, told: Told) -> Page:
    """The page; its named figures go into `told`, and the sizes that its pictures are labelled
    with."""
    answer = client.get(url)
    assert answer.status_code == 200, url
    page = Page(answer.content)
    for name, text in page.figures:
        told[name][text.removesuffix(" USD")].add(url)
    for text in page.labels:
        if " × " in text:
            told["largest_rectangle"][text].add(f"{url}, picture")
    return page


def told_in_file(rows: list[list[Any]], where: str, told: Told) -> None:
    head, *lines = rows
    for line in lines:
        for heading, value in zip(head, line, strict=True):
            name = COLUMNS.get(heading)
            if name is None:
                continue
            if name.endswith("_g"):
                text = format_mass(Decimal(str(value)))
            elif name == "waste_of_used":
                text = f"{percent_of(Decimal(str(value)) / 100)} %"
            else:
                text = f"{Decimal(str(value)):.2f}"
            told[name][text].add(where)


def test_every_page_that_tells_a_figure_of_a_closed_plan_tells_the_same(plan: CutPlan) -> None:
    cast_teacher, project = plan.created_by, plan.shares.get().project
    course, seat = plan.course_id, project.seat_id
    teacher, student = signed_in(cast_teacher), signed_in(project.seat.student)
    told: Told = defaultdict(lambda: defaultdict(set))
    for client, name, *ids in (
        (teacher, "plan", plan.pk),
        (student, "plan", plan.pk),
        (teacher, "plan_return", plan.pk),
        (teacher, "cut_plan_print", plan.pk),
        (student, "cut_plan_print", plan.pk),
        (teacher, "placement_sheet", plan.pk),
        (student, "project", project.pk),
        (teacher, "review"),
        (teacher, "course_review", course),
        (teacher, "brief_review", project.brief_id),
        (teacher, "student_review", seat),
        (teacher, "review_print", course),
        (student, "statement"),
    ):
        told_on(client, reverse(name, args=ids), told)
    written = teacher.get(reverse("review_csv", args=[course])).content.decode("utf-8-sig")
    told_in_file(list(csv.reader(io.StringIO(written))), "csv", told)
    book = load_workbook(
        io.BytesIO(teacher.get(reverse("review_xlsx", args=[course])).content), read_only=True
    )
    told_in_file([list(row) for row in book.active.iter_rows(values_only=True)], "workbook", told)

    assert {name: dict(texts) for name, texts in told.items() if len(texts) != 1} == {}
    places = {name: len(next(iter(texts.values()))) for name, texts in told.items()}
    for name in (*COLUMNS.values(), "largest_rectangle", "pieces_of_used", "waste_g", "kept_mm2"):
        assert places[name] >= 3, (name, places)
    correct_scrap(plan, Decimal("9.27"), acting=cast_teacher, reason="read the wrong line")
    later: Told = defaultdict(lambda: defaultdict(set))
    for name, *ids in (("plan_return", plan.pk), ("course_review", course), ("review",)):
        told_on(teacher, reverse(name, args=ids), later)
    for name in ("scrap_weighed_g", "scales_g", "unexplained_mm2"):
        assert [len(where) for where in later[name].values()] == [3], (name, later[name])
    assert set(later["scales_g"]) != set(told["scales_g"])
    # What was planned came out, as every offcut came back.
    assert set(told["pieces_of_used"]) == set(told["pieces_of_used_planned"])
    assert set(told["kerf"]) == {"0.30 mm"}


@pytest.mark.parametrize("name", ["cut_plan_print", "review_print"])
def test_a_pdf_tells_the_figures_of_its_page(plan: CutPlan, name: str) -> None:
    teacher = signed_in(plan.created_by)
    url = reverse(name, args=[plan.pk if name == "cut_plan_print" else plan.course_id])
    told: Told = defaultdict(lambda: defaultdict(set))
    told_on(teacher, url, told)
    reader = PdfReader(io.BytesIO(teacher.get(f"{url}?as=pdf").content))
    words = re.sub(r"\s+", "", "".join(page.extract_text() for page in reader.pages))
    figures = {re.sub(r"\s+", "", text) for texts in told.values() for text in texts}
    assert len(figures) >= 8
    assert {one for one in figures if one not in words} == set()


def test_shares_on_one_page_are_of_one_whole_and_name_it(plan: CutPlan) -> None:
    """Pieces and waste of the metal used up are the whole of it; the bars say no other share."""
    teacher = signed_in(plan.created_by)
    told: Told = defaultdict(lambda: defaultdict(set))
    bars: list[str] = []
    for name in ("plan", "plan_return", "course_review"):
        ident = plan.course_id if name == "course_review" else plan.pk
        page = told_on(teacher, reverse(name, args=[ident]), told)
        assert "of the metal used up" in page.words.lower()
        if name != "course_review":
            bars += page.bars
    (pieces,), (waste,) = told["pieces_of_used"], told["waste_of_used"]
    assert int(pieces.removesuffix(" %")) + int(waste.removesuffix(" %")) == 100
    assert set(bars) == {f"{pieces} in pieces"}
