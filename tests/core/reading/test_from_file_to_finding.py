"""Whole patterns as students bring them: from the file's bytes to what is measured on metal."""

from __future__ import annotations

import math

import pytest
import shapely

from studio.core.checking import check
from studio.core.drawing import FLATTENING_TOLERANCE_MM, Finding, Limits
from studio.core.reading import assemble, read_pattern

from .drawn import NS, codes, read, svg, trace


def measured(body: str, code: str, **page: str) -> Finding:
    found = read(body, **page)
    assert found.findings == ()
    (finding,) = (each for each in check(found.drawing, Limits()) if each.code == code)
    return finding


ROUND_FRAME = '<circle cx="50" cy="50" r="40"/>'


@pytest.mark.parametrize("scale", [0.001, 1.0, 1000.0])
def test_a_bridge_between_round_windows_is_right_whatever_the_user_unit(scale: float) -> None:
    """1.5 mm by construction; the agreed slack is 0.03 mm."""
    circles = (
        f'<circle cx="30" cy="50" r="12"/><ellipse cx="58.5" cy="50" rx="15" ry="9"/>{ROUND_FRAME}'
    )
    body = f'<g transform="scale({scale})">{circles}</g>'
    box = f"0 0 {100 * scale:g} {100 * scale:g}"
    finding = measured(body, "bridge-thin", box=box)
    assert finding.value_mm == pytest.approx(1.5, abs=0.03)
    assert finding.at == pytest.approx((42.75, 50), abs=0.3)


def test_a_web_under_an_arc_is_right() -> None:
    # a lens-shaped window whose upper arc (radius 25 about 50 50) nears the rim of radius 26.3
    body = (
        '<circle cx="50" cy="50" r="26.3"/>'
        '<path d="M32.32 32.32A25 25 0 0 1 67.68 32.32A22 22 0 0 1 32.32 32.32z"/>'
    )
    assert measured(body, "web-thin").value_mm == pytest.approx(1.3, abs=0.03)


def test_a_waist_between_two_cubic_dents_is_right() -> None:
    # each dent is one cubic from y=10 (or 40) whose middle lies 3/4 of the way to its controls
    depth = (15 - 0.8) / 0.75
    body = (
        f'<path d="M10 10C25 {10 + depth} 35 {10 + depth} 50 10V40'
        f'C35 {40 - depth} 25 {40 - depth} 10 40z"/>'
    )
    finding = measured(body, "neck-thin")
    assert finding.value_mm == pytest.approx(1.6, abs=0.03)
    assert finding.at == pytest.approx((30, 75), abs=0.3)


def test_no_flattened_point_leaves_a_curve_drawn_in_tiny_units() -> None:
    tracing = trace(
        '<path d="M0.1 0.5A0.4 0.4 0 0 1 0.9 0.5A0.4 0.4 0 0 1 0.1 0.5z"/>', box="0 0 1 1"
    )
    ring = tracing.lines[0].linework
    centre = shapely.Point(50, 50)
    assert ring.hausdorff_distance(centre) <= 40 + FLATTENING_TOLERANCE_MM
    assert ring.distance(centre) >= 40 - FLATTENING_TOLERANCE_MM
    assert len(tracing.lines[0].points) < 200


INCH_PAGE = f"""<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<!-- saved by a drawing program -->
<svg {NS} xmlns:own="http://example.org/program" width="2in" height="1.5in"
     viewBox="0 0 50.8 38.1" version="1.1" own:version="1">
  <own:view zoom="2"/>
  <defs id="defs1"><own:effect/></defs>
  <metadata><own:work/></metadata>
  <g own:label="Layer 1" own:groupmode="layer" transform="translate(-80,-100)"
     style="display:inline">
    <path style="fill:none;fill-rule:evenodd;stroke:#000000;stroke-width:0.264583px;
      stroke-linecap:butt;stroke-opacity:1" id="path1"
      d="m 85,119 c 5,-15 25,-15 33,-2 l 8,-7 v 20 l -8,-7 c -8,13 -28,13 -33,-4 z" />
    <circle style="fill:#ff0000;stroke:none" cx="92" cy="117" r="0.8" id="eye" />
  </g>
  <g own:label="notes" style="display:none"><rect width="50" height="38"/></g>
</svg>
"""

CLASSES_PAGE = f"""<?xml version="1.0" encoding="utf-8"?>
<svg version="1.1" id="Layer_1" {NS} x="0px" y="0px" viewBox="0 0 170.08 113.39"
  style="enable-background:new 0 0 170.08 113.39;" xml:space="preserve" width="60mm">
<style type="text/css">
	.st0{{fill:none;stroke:#000000;stroke-miterlimit:10;}}
	.st1{{fill:none;stroke:#FF0000;stroke-width:.25;}}
</style>
<g><polygon class="st0" points="14.17,14.17 155.91,14.17 155.91,99.21 14.17,99.21 "/>
<path class="st0" d="M56.7,56.7c0,7.83-6.34,14.17-14.17,14.17s-14.17-6.34-14.17-14.17
	s6.34-14.17,14.17-14.17S56.7,48.87,56.7,56.7z"/>
<line class="st1" x1="85.04" y1="28.35" x2="127.56" y2="85.04"/></g>
</svg>
"""


def test_a_layered_page_in_inches_is_read() -> None:
    tracing = read_pattern(INCH_PAGE.encode())
    found = assemble(tracing)
    assert (tracing.findings, found.findings) == ((), ())
    assert tracing.source.units == "in"
    assert list(found.labels.values()) == ["outline", "rivet"]
    assert [line.name for line in tracing.lines] == ["path1", "eye"]
    assert found.drawing.pieces[0].outline.bounds[0] == pytest.approx(5.0, abs=0.02)


def test_a_page_with_classes_and_points_is_read() -> None:
    tracing = read_pattern(CLASSES_PAGE.encode())
    found = assemble(tracing)
    assert (tracing.findings, found.findings) == ((), ())
    assert list(found.labels.values()) == ["outline", "window", "surface"]
    (piece,) = found.drawing.pieces
    assert piece.size_mm == pytest.approx((50, 30), abs=0.01)  # 72 points are 25.4 mm
    assert piece.area_mm2 == pytest.approx(1500 - math.pi * 25, abs=0.3)


def test_what_the_student_sees_first_is_everything_at_once() -> None:
    body = (
        '<rect x="5" y="5" width="80" height="60"/><rect x="8" y="20" width="1.2" height="9"/>'
        '<rect x="10" y="20" width="9" height="9"/><circle cx="83.5" cy="30" r="0.8"/>'
        '<path d="M90 90h5v5"/><path d="M88 10l8 8v-8l-8 8z"/>'
    )
    found = read(body)
    told = set(codes(found.findings)) | set(codes(check(found.drawing, Limits())))
    assert told >= {
        "line-open",
        "line-crosses-itself",
        "bridge-thin",
        "window-small",
        "hole-edge",
        "corner-tight",
    }


def test_a_page_can_be_as_strange_as_svg_allows_and_still_be_right() -> None:
    data = svg(
        '<defs><symbol id="s" viewBox="-5 -5 10 10" preserveAspectRatio="xMaxYMin">'
        '<circle r="5" class="k"/></symbol></defs><style>.k{fill:none;stroke:red}</style>'
        '<svg x="25%" y="10mm" width="50" height="25" viewBox="0 0 100 100" '
        'preserveAspectRatio="none"><g transform="matrix(1 0 0 2 0 0)">'
        '<use href="#s" x="10" y="5" width="60" height="40"/></g></svg>'
    )
    (line,) = read_pattern(data.encode()).lines
    x0, y0, x1, y1 = line.polygon.bounds
    # symbol: 40 by 40 at its right; doubled in y; squeezed by 1/2 and 1/4; shifted; 10mm is px
    top = 10 * 96 / 25.4 + 5 * 2 / 4
    assert (x0, x1) == pytest.approx((25 + 30 / 2, 25 + 70 / 2), abs=0.006)
    assert (100 - y1, 100 - y0) == pytest.approx((top, top + 40 * 2 / 4), abs=0.006)
