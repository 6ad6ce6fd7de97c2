"""The picture we draw ourselves: well-formed, true to scale, and carrying nothing of the file."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element, fromstring

import pytest

from studio.core.checking import check
from studio.core.drawing import Drawing, Finding, Limits, Weight
from studio.core.picturing import picture_of_drawing, picture_of_tracing
from studio.core.reading import Label, assemble
from tests.shapes import SQUARE_40, TWO_WINDOWS_1_5_APART, drawing

from .reading.drawn import trace

SVG = "{http://www.w3.org/2000/svg}"
BODY = (
    '<rect x="10" y="10" width="60" height="60"/><rect x="20" y="20" width="20" height="20"/>'
    '<circle cx="55" cy="55" r="1"/><path d="M45 20h20"/><path d="M80 80h9"/>'
)


def parts(text: str, tag: str) -> list[Element]:
    return fromstring(text).findall(f".//{SVG}{tag}")


def test_every_line_can_be_tapped_by_its_id_and_reached_by_keyboard() -> None:
    tracing = trace(BODY)
    found = assemble(tracing)
    text = picture_of_tracing(tracing, found.labels, found.findings, title="Gull")
    lines = {each.get("data-line"): each for each in parts(text, "g") if each.get("data-line")}
    assert set(lines) == {"1", "2", "3", "4", "5"}
    assert lines["2"].get("data-label") == "window"
    assert lines["2"].get("tabindex") == "0"
    assert lines["5"].get("class") == f"line line-{Label.OPEN.value}"
    assert "window" in (lines["2"].get("aria-label") or "")


def test_small_lines_lie_over_large_ones_so_that_they_can_be_tapped() -> None:
    tracing = trace('<circle cx="50" cy="50" r="5"/><circle cx="50" cy="50" r="40"/>')
    text = picture_of_tracing(tracing, assemble(tracing).labels, title="Ring")
    order = [each.get("data-line") for each in parts(text, "g") if each.get("data-line")]
    assert order == ["2", "1"]


def test_findings_are_numbered_as_listed_at_their_points() -> None:
    shape = drawing(TWO_WINDOWS_1_5_APART)
    findings = check(shape, Limits())
    text = picture_of_drawing(shape, findings, title="Two windows")
    flags = [each for each in parts(text, "g") if each.get("data-finding")]
    assert {each.get("data-finding") for each in flags} == {
        str(number) for number in range(1, len(findings) + 1)
    }
    (first,) = (each for each in flags if each.get("data-finding") == "1")
    spot = first.find(f"{SVG}circle")
    assert spot is not None
    frame_margin = 40 * 0.06
    assert float(spot.get("cx") or 0) == pytest.approx(18.75 + frame_margin, abs=0.01)
    assert float(spot.get("cy") or 0) == pytest.approx(20 + frame_margin, abs=0.01)
    assert findings[0].message in (first.findtext(f"{SVG}title") or "")


def test_markers_stay_on_the_paper_and_off_each_other() -> None:
    shape = drawing(TWO_WINDOWS_1_5_APART)
    text = picture_of_drawing(shape, check(shape, Limits()), title="Two windows")
    root = fromstring(text)
    width, height = (float(each) for each in (root.get("viewBox") or "").split()[2:])
    numbers = [each for each in parts(text, "text") if (each.text or "").isdigit()]
    places = [(float(each.get("x") or 0), float(each.get("y") or 0)) for each in numbers]
    assert all(0 < x < width and 0 < y < height for x, y in places)
    assert len({(round(x), round(y)) for x, y in places}) == len(places)


def test_real_size_is_in_millimetres() -> None:
    root = fromstring(picture_of_drawing(drawing(SQUARE_40), title="Square", real_size=True))
    _, _, width, height = (root.get("viewBox") or "").split()
    assert root.get("width") == f"{width}mm"
    assert root.get("height") == f"{height}mm"
    assert fromstring(picture_of_drawing(drawing(SQUARE_40), title="x")).get("width") is None


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    text = picture_of_drawing(drawing(SQUARE_40), title="Square")
    (bar,) = (each for each in parts(text, "g") if each.get("class") == "scale-bar")
    path = bar.find(f"{SVG}path")
    assert path is not None
    start, end = re.match(r"M(\S+) .*H(\S+)V", path.get("d") or "").groups()  # type: ignore[union-attr]
    assert bar.findtext(f"{SVG}text") == "10 mm"
    assert float(end) - float(start) == pytest.approx(10)


def test_y_is_turned_back_so_that_the_picture_is_not_mirrored() -> None:
    tracing = trace('<path d="M10 10h30v5h-25v60h-5z"/>')
    text = picture_of_tracing(tracing, assemble(tracing).labels, title="Flag")
    path = parts(text, "path")[0].get("d") or ""
    points = [tuple(map(float, each.split())) for each in re.findall(r"[\d.]+ [\d.]+", path)]
    right_most = max(points)
    assert right_most[1] == pytest.approx(min(y for _, y in points), abs=5.01)


def test_what_people_typed_comes_out_as_text_only() -> None:
    evil = '</title><script>alert("1")</script>\x00&'
    finding = Finding("x", Weight.STOP, evil, evil, at=(1.0, 1.0))
    tracing = trace(f'<path id="{"&lt;b&gt;"}" d="M10 10h30v30z"/>')
    for text in (
        picture_of_drawing(drawing(SQUARE_40), [finding], title=evil),
        picture_of_tracing(tracing, assemble(tracing).labels, [finding], title=evil),
    ):
        fromstring(text)
        assert "<script" not in text
        assert "style=" not in text
        assert "\x00" not in text


def test_an_empty_drawing_still_has_a_picture() -> None:
    fromstring(picture_of_drawing(Drawing(()), title="Nothing yet"))
