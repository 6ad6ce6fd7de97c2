"""Who may look back at what, on screen, as PDF and as a file."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from inventory.spreadsheets import defused
from studio.models import Project
from studio.telling.review.tables import HEADINGS, OWN_COLUMNS
from tests.people import visit

from .conftest import Class


def addresses(after: Class) -> list[str]:
    course = after.cast.course.pk
    return [
        reverse("course_review", args=[course]),
        reverse("review_csv", args=[course]),
        reverse("brief_review", args=[after.world.brief.pk]),
        reverse("student_review", args=[after.cast.seat.pk]),
        reverse("review_print", args=[course]),
    ]


def test_the_courses_teacher_sees_everything(after: Class) -> None:
    for address in addresses(after):
        assert visit(after.cast.teacher, address).status_code == 200, address


def test_students_see_no_review_at_all(after: Class) -> None:
    for address in (*addresses(after), reverse("review")):
        for student in (after.cast.owner, after.cast.classmate):
            assert visit(student, address).status_code == 403, address


def test_teachers_of_other_courses_and_schools_find_nothing(after: Class) -> None:
    for address in addresses(after):
        for person in (after.cast.other_teacher, after.cast.outsider):
            assert visit(person, address).status_code == 404, address
    for person in (after.cast.other_teacher, after.cast.outsider):
        page = visit(person, reverse("review"))
        assert page.status_code == 200
        assert "Metals 1" not in page.content.decode()


def test_a_student_reads_the_own_statement_and_nobody_elses(after: Class) -> None:
    page = visit(after.cast.owner, reverse("statement")).content.decode()
    assert "Tag of Wren T" in page
    assert "Tag of Odd F" not in page
    assert "Odd F" not in page
    total = after.closed.quotes.get(project=after.own, kind="settled").total
    assert f"{total:.2f} USD" in page


def test_a_teacher_has_no_statement(after: Class) -> None:
    assert visit(after.cast.teacher, reverse("statement")).status_code == 403


def test_a_student_of_another_school_has_an_empty_statement(after: Class) -> None:
    page = visit(after.cast.outside_student, reverse("statement")).content.decode()
    assert "No metal handed out yet" in page


def test_the_overview_names_each_course_with_its_cost(after: Class) -> None:
    page = visit(after.cast.teacher, reverse("review")).content.decode()
    total = sum(quote.total for quote in after.closed.quotes.filter(kind="settled"))
    assert "Metals 1, B" in page
    assert f"{total:.2f} USD" in page


def test_a_filter_that_fits_nothing_says_so(after: Class) -> None:
    page = visit(after.cast.teacher, addresses(after)[0], from_day="2030-01-01").content.decode()
    assert "Nothing was handed out that fits" in page


def test_links_to_print_and_file_keep_the_filter(after: Class) -> None:
    page = visit(after.cast.teacher, addresses(after)[0], sort="cost").content.decode()
    assert f'{reverse("review_csv", args=[after.cast.course.pk])}?sort=cost"' in page
    assert f'{reverse("review_print", args=[after.cast.course.pk])}?sort=cost"' in page


def read(answer: Any) -> list[dict[str, str]]:
    text = answer.content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_file_has_plain_numbers_that_add_up(after: Class) -> None:
    answer = visit(after.cast.teacher, addresses(after)[1])
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert "attachment" in answer["Content-Disposition"]
    *rows, last = read(answer)
    assert last["Student"] == "Together"
    assert len(rows) == 2
    for column in ("Metal (USD)", "Supplies (USD)", "Together (USD)"):
        assert sum(Decimal(row[column]) for row in rows) == Decimal(last[column])
    for row in rows:
        for column in list(row)[7:-OWN_COLUMNS]:
            assert re.fullmatch(r"-?\d+(\.\d+)?", row[column]), column
    assert len(rows[0]) == len(HEADINGS)
    assert {text for row in rows for text in list(row.values())[-OWN_COLUMNS:]} == {""}


@pytest.mark.parametrize(
    "bad",
    [
        *("=1+1", "+SUM(A1)", "-2+3", "@now", "\t=1", "\r=1", " =1", "\ufeff=1"),
        *("\uff1d1", "\u200b=1", "\x01@now", "\xa0\u2060+1"),
    ],
)
def test_no_text_of_a_student_runs_in_a_spreadsheet(after: Class, bad: str) -> None:
    """Cells that begin so are formulas to spreadsheets (OWASP, CSV Injection)."""
    Project.objects.filter(pk=after.own.pk).update(title=bad)
    titles = [row["Project"] for row in read(visit(after.cast.teacher, addresses(after)[1]))]
    assert f"'{bad}" in titles or f"'{bad}".replace("\r", "\n") in titles
    assert defused("Fish = 2") == "Fish = 2"


@pytest.mark.usefixtures("pango")
def test_the_review_is_a_pdf_too(after: Class) -> None:
    answer = visit(after.cast.teacher, addresses(after)[4], **{"as": "pdf"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
