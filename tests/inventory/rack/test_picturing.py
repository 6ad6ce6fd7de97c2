"""Pictures of metal: to scale, the right way up, and never a way in for markup."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from django.utils import translation
from shapely.geometry import MultiPolygon, Polygon, box

from inventory.rack.picturing import common_scale, piece_svg, thumbnail_svg
from tests.inventory.pages import ELL


def points(svg: str) -> list[tuple[float, float]]:
    path = ET.fromstring(svg).findall("path")[0].attrib["d"]
    pairs = re.findall(r"[ML]([0-9.-]+) ([0-9.-]+)", path)
    return [(float(x), float(y)) for x, y in pairs]


def test_a_picture_keeps_the_outlines_lengths_in_millimetres_and_turns_y_over() -> None:
    svg = piece_svg(ELL, title="Outline of CU-0.81-006")
    drawn = Polygon(points(svg))
    assert drawn.area == pytest.approx(ELL.area, rel=1e-5)
    assert drawn.length == pytest.approx(ELL.length, rel=1e-5)
    # The L stands on its long side; on a page y grows downwards, so its foot has the larger y.
    foot = max(y for _, y in points(svg))
    wide = [x for x, y in points(svg) if y == foot]
    assert max(wide) - min(wide) == pytest.approx(118)


def test_a_picture_has_an_alternative_text_and_its_measures() -> None:
    tree = ET.fromstring(piece_svg(box(0, 0, 152.4, 304.8), title="A sheet", units="in"))
    assert tree.attrib["role"] == "img"
    assert tree.findtext("title") == "A sheet"
    assert [text.text for text in tree.findall("text")] == ["6 in", "12 in"]


def test_windows_are_drawn_as_holes_and_parts_as_parts() -> None:
    frame = box(0, 0, 40, 30).difference(box(10, 10, 20, 20))
    for outline, rings in ((frame, 2), (MultiPolygon([frame, box(60, 0, 70, 10)]), 3)):
        (path,) = ET.fromstring(piece_svg(outline, title="x")).findall("path")
        assert path.attrib["d"].count("M") == rings
        assert path.attrib["fill-rule"] == "evenodd"


def test_what_is_gone_is_hatched_over_its_outline() -> None:
    drawn = ET.fromstring(piece_svg(ELL, title="x", kind="gone")).findall("path")
    assert [path.attrib["class"] for path in drawn] == ["d-metal", "d-used"]


def test_a_title_cannot_carry_markup() -> None:
    evil = '</title><script>alert(1)</script>"'
    for svg in (
        piece_svg(ELL, title=evil),
        thumbnail_svg(ELL, title=evil, px_per_mm=1),
    ):
        assert "<script" not in svg
        assert ET.fromstring(svg).findtext("title") == evil


def test_numbers_keep_their_point_in_every_language() -> None:
    with translation.override("de"):
        assert "," not in piece_svg(ELL, title="x", units="mm")


def test_thumbnails_of_one_list_share_the_scale_of_the_largest() -> None:
    scale = common_scale([box(0, 0, 300, 10), ELL], most_px=150)
    assert scale == 0.5
    svg = ET.fromstring(thumbnail_svg(ELL, title="x", px_per_mm=scale))
    assert float(svg.attrib["width"]) == pytest.approx(118 / 2 + 3)


def test_an_empty_list_has_a_scale_too() -> None:
    assert common_scale([]) > 0
