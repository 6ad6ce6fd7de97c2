"""A measured stop reads the same in its own words, beside them, fresh and out of the database."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from shapely.geometry import Polygon, box

from classroom.models import School
from studio.core.checking import check
from studio.core.drawing import Drawing, Finding, Limits, Piece
from studio.core.reading import Asked, Upload
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.start_project import start_project
from studio.views.patterns.findings import numbered
from tests.people import Cast, signed_in
from tests.studio.plans.making import brief, copper


def bridge(width: float) -> Drawing:
    one, other = box(10, 10, 20, 20), box(20 + width, 10, 32, 20)
    rings = [one.exterior.coords, other.exterior.coords]
    return Drawing((Piece("1", Polygon(box(0, 0, 45, 30).exterior.coords, rings)),))


def told(finding: Finding, school: School) -> tuple[str, str]:
    """The millimetres in the words, and those in the value beside them."""
    (row,) = numbered([finding], school)
    words = re.search(r"(\d+\.\d+) mm", row.what)
    assert words is not None
    return words[1], row.value.removesuffix(" mm")


@pytest.mark.parametrize("width", [1.9149, 1.9151, 1.915, 1.9049, 1.125, 1.9754, 1.97])
def test_a_bridge_is_as_wide_in_words_as_in_its_row(cast: Cast, width: float) -> None:
    (fresh,) = [one for one in check(bridge(width), Limits()) if one.code == "bridge-thin"]
    stored = Finding.from_json(fresh.to_json())
    for finding in (fresh, stored):
        words, value = told(finding, cast.school)
        assert words == value
    assert told(fresh, cast.school) == told(stored, cast.school)


def test_words_of_earlier_days_follow_their_stored_value(cast: Cast) -> None:
    """They were rounded from what was measured (1.9149), the value from what was stored."""
    row = {
        "code": "bridge-thin",
        "weight": "stop",
        "message": "The bridge between two windows is only 1.91 mm wide here; 2 mm is asked.",
        "mend": "Move the windows apart.",
        "value_mm": 1.915,
        "limit_mm": 2.0,
    }
    assert told(Finding.from_json(row), cast.school) == ("1.92", "1.92")
    other = row | {"message": "At 7.25 mm something else is 1.91 mm wide."}
    assert "7.25 mm" in Finding.from_json(other).message


def test_a_piece_that_is_hardly_too_large_does_not_read_as_if_it_fitted() -> None:
    drawing = Drawing((Piece("1", box(0, 0, 100.04, 50)),))
    (finding,) = [one for one in check(drawing, Limits()) if one.code == "too-large"]
    assert "100.04 mm by 50.00 mm" in finding.message


def test_every_page_of_a_pattern_tells_a_stop_alike(cast: Cast) -> None:
    """Measured 1.9149, kept 1.915: once told as 1.91 and once as 1.92."""
    metal = copper(cast)
    project = start_project(brief(cast, metal), cast.seat, acting=cast.owner)
    boxes = ((0, 0, 45, 30), (10, 10, 20, 20), (21.9149, 10, 32, 20))
    lines = "".join(f"M{a} {b}H{c}V{d}H{a}Z" for a, b, c, d in boxes)
    file = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="40mm" '
        'viewBox="-2 -2 50 40">'
        f'<path d="{lines}" fill="none" stroke="#000" stroke-width="0.1"/></svg>'
    )
    pattern = read_in(project, Upload(file.encode(), Asked("two.svg")), acting=cast.owner)
    (stop,) = pattern.stops
    assert stop.value_mm == pytest.approx(1.9149, abs=6e-4)
    teacher, student = signed_in(cast.teacher), signed_in(cast.owner)
    for client, name in (
        (student, "pattern"),
        (teacher, "pattern"),
        (student, "pattern_correct"),
    ):
        page = client.get(reverse(name, args=[pattern.pk])).content.decode()
        assert "1.92 mm" in page, name
        assert not re.search(r"\b1\.91\d* mm", page), name
