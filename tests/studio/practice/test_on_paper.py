"""A practice sheet to cut with scissors: true lengths, every piece, and the answer for teachers."""

from __future__ import annotations

import pytest
import shapely
from django.urls import reverse

from classroom.models import School
from classroom.papers.printing import paper_context, pdf_bytes
from studio.core.practice import BY_CODE
from studio.prints.paper.sizes import Printer
from studio.prints.practice.cut_out import TEMPLATE, cut_out_context
from tests.people import Cast, signed_in
from tests.studio.prints.reading_pdf import of_size, open_pdf, paths_of, straight


@pytest.mark.usefixtures("pango")
@pytest.mark.parametrize(("paper", "code"), [("a4", "nine"), ("letter", "harbour")])
def test_metal_pieces_and_bars_are_as_long_on_paper_as_they_are(paper: str, code: str) -> None:
    sheet = BY_CODE[code]
    printer = Printer(99.0, 100.5)
    school = School(name="Saltmarsh", paper=paper)
    context = paper_context(school) | cut_out_context(sheet, school=school, printer=printer)
    reader = open_pdf(pdf_bytes(TEMPLATE, context | {"printer": printer}))
    assert len(reader.pages) == 2
    across, up = printer.x_scale, printer.y_scale
    metal, *pieces = (paths_of(page, reader) for page in reader.pages)
    width, height = sheet.size_mm
    assert len(of_size(metal, width * across, height * up, by=0.02)) == 1
    for page in (metal, *pieces):
        assert len(straight(page, 100.0 * across, upright=False)) == 1
        assert len(straight(page, 100.0 * up, upright=True)) == 1
    for wanted in sheet.job.pieces:
        sides = sorted(_sides(wanted.outline))
        found = [one for one in pieces[0] if _alike(one.size, sides, across, up)]
        assert len(found) >= wanted.count, wanted.id


def _sides(outline: shapely.Polygon) -> tuple[float, float]:
    x0, y0, x1, y1 = outline.bounds
    return x1 - x0, y1 - y0


def _alike(size: tuple[float, float], sides: list[float], across: float, up: float) -> bool:
    """Set out with the longer side across."""
    short, long = sides
    return abs(size[0] - long * across) < 0.02 and abs(size[1] - short * up) < 0.02


def test_everybody_prints_a_sheet_and_teachers_alone_its_answer(cast: Cast) -> None:
    sheet, answer = (
        reverse(name, args=["seven"]) for name in ("practice_print", "practice_answer_print")
    )
    for person, seen in (
        (cast.teacher, 200),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 200),  # a teacher elsewhere: sheets are the same for everybody
    ):
        client = signed_in(person)
        assert client.get(sheet).status_code == 200
        assert client.get(answer).status_code == seen
    assert signed_in(cast.owner).get(reverse("practice_print", args=["no"])).status_code == 404


def test_the_paper_speaks_the_readers_language(cast: Cast) -> None:
    page = signed_in(cast.owner).get(reverse("practice_print", args=["seven"]), {"lang": "es"})
    assert "Cerca" in page.content.decode()
