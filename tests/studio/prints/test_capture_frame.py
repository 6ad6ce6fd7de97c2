"""The printed capture frame: true lengths on paper, and markers that are found again.

Sources: A4 is 210 × 297 mm by ISO 216; Letter is 8.5 × 11 in by ASME Y14.1 (size A).
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from classroom.models import School, User
from classroom.papers.printing import paper_context, pdf_bytes
from studio.core.reading.frame import FRAMES, MARKER_MM
from studio.prints.paper.capture_frame import TEMPLATE, capture_frame_context
from studio.prints.paper.sizes import Printer
from tests.people import Cast, signed_in

from .reading_pdf import of_size, open_pdf, page_size_mm, paths_of, straight


def sheet(name: str, school: School, printer: Printer | None = None) -> PdfReader:
    context = capture_frame_context(FRAMES[name], printer or Printer())
    return open_pdf(pdf_bytes(TEMPLATE, paper_context(school) | context))


@pytest.mark.usefixtures("pango")
@pytest.mark.parametrize(("name", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_markers_lie_where_the_frame_says_to_a_hundredth_of_a_millimetre(
    cast: Cast, name: str, size: tuple[float, float]
) -> None:
    frame = FRAMES[name]
    reader = sheet(name, cast.school)
    assert len(reader.pages) == 1
    assert page_size_mm(reader.pages[0]) == pytest.approx(size, abs=0.01)
    paths = paths_of(reader.pages[0], reader)
    squares = of_size(paths, MARKER_MM, MARKER_MM, by=0.01)
    assert len(squares) == len(frame.markers)
    places = sorted((x, y) for x, y, _, _ in (square.box for square in squares))
    true = sorted((marker.x_mm, marker.y_mm) for marker in frame.markers)
    apart = np.array(places) - np.array(true)
    assert np.abs(apart - apart[0]).max() < 0.01
    margin = 12.7  # half an inch; every printer prints inside it
    assert min(places)[0] > margin
    assert len(straight(paths, 100.0, upright=False)) == 1
    assert len(straight(paths, 100.0, upright=True)) == 1


@pytest.mark.usefixtures("pango")
def test_a_printer_that_prints_short_gets_a_longer_frame(cast: Cast) -> None:
    reader = sheet("a4", cast.school, Printer(99.6, 99.5))
    paths = paths_of(reader.pages[0], reader)
    longer = of_size(paths, MARKER_MM / 0.996, MARKER_MM / 0.995, by=0.005)
    assert len(longer) == len(FRAMES["a4"].markers)
    assert len(reader.pages) == 1


@pytest.mark.parametrize("name", list(FRAMES))
def test_every_marker_is_the_one_of_its_number(name: str) -> None:
    """Against OpenCV's own drawing of the dictionary's markers."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for marker in FRAMES[name].markers:
        drawn = cv2.aruco.generateImageMarker(dictionary, marker.number, 6)
        white = {(int(x), int(y)) for y, x in np.argwhere(drawn > 127)}
        ours = {
            (
                round((x - marker.x_mm) / side),
                5 - round((y - marker.y_mm) / side),
            )
            for x, y, side in marker.white_modules
        }
        assert ours == white


def test_no_marker_is_in_two_frames() -> None:
    numbers = [marker.number for frame in FRAMES.values() for marker in frame.markers]
    assert len(numbers) == len(set(numbers))


def visit(person: User, **query: str) -> str:
    client = signed_in(person)
    answer = client.get(reverse("capture_frame"), query)
    assert answer.status_code == 200
    return answer.content.decode()


def test_students_and_teachers_get_the_frame_for_the_schools_paper_or_the_other(
    cast: Cast,
) -> None:
    for person in (cast.owner, cast.teacher):
        assert "Capture frame A4" in visit(person)
        assert "Capture frame Letter" in visit(person, frame="letter")
        assert "Capture frame A4" in visit(person, frame="nonsense")


@pytest.mark.parametrize("name", list(FRAMES))
def test_a_printer_a_hundredth_short_still_gets_a_whole_frame(cast: Cast, name: str) -> None:
    page = visit(cast.owner, frame=name, across="99", up="99")
    assert "does not fit" not in page
    assert "scale(1.010101 1.010101)" in page


def test_a_correction_that_no_longer_fits_is_said_and_not_printed(cast: Cast) -> None:
    page = visit(cast.owner, across="95", up="95")
    assert "does not fit" in page
    assert 'viewBox="0 0 182.000' in page


def test_who_is_not_signed_in_gets_no_frame(cast: Cast) -> None:
    assert Client().get(reverse("capture_frame")).status_code == 302
