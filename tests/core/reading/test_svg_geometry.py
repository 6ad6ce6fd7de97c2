"""Paths, shapes, transforms, re-use and styles, against formulas and two reference libraries."""

from __future__ import annotations

import io
import math
from typing import Any

import pytest
import shapely
import svgelements
import svgpathtools
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, Polygon

from studio.core.reading import Tracing, read_pattern
from studio.core.reading.bounds import Budget
from studio.core.reading.curves import Arc
from studio.core.reading.flattening import flatten
from studio.core.reading.svg.path_syntax import arc_between, parse_path

from .drawn import codes, inked, svg, trace

TOLERANCE = 0.02


def box(tracing: Tracing) -> tuple[float, float, float, float]:
    """Bounds in page coordinates, y down, as the file has them."""
    x0, y0, x1, y1 = tracing.bounds_mm
    return x0, 100 - y1, x1, 100 - y0


def area(tracing: Tracing) -> float:
    return sum(Polygon(line.points).area for line in tracing.lines)


# Exact areas (plane geometry)


@pytest.mark.parametrize("radius", [0.4, 2.0, 10.0, 45.0])
def test_a_circle_has_its_true_area_and_stays_within_the_tolerance(radius: float) -> None:
    tracing = trace(f'<circle cx="50" cy="50" r="{radius}"/>')
    assert area(tracing) == pytest.approx(math.pi * radius**2, rel=1e-6)
    ring = LinearRing(tracing.lines[0].points)
    centre = shapely.Point(50, 50)
    assert ring.hausdorff_distance(centre) <= radius + 0.0051
    assert ring.distance(centre) >= radius - 0.0051


def test_an_ellipse_has_its_true_area_also_turned_and_skewed() -> None:
    tracing = trace(
        '<g transform="translate(50 50) rotate(33) skewX(20)"><ellipse rx="20" ry="6"/></g>'
    )
    assert area(tracing) == pytest.approx(math.pi * 20 * 6, rel=1e-5)  # turn and skew keep area


def test_a_rounded_rectangle_loses_only_its_corners() -> None:
    # inscribed arcs lose at most tolerance times arc length
    expected = 40 * 30 - (4 - math.pi) * 5 * 5
    assert area(trace('<rect x="9" y="9" width="40" height="30" rx="5"/>')) == pytest.approx(
        expected, abs=0.5
    )


@pytest.mark.parametrize(
    ("radii", "same_as"),
    [
        ('rx="5"', 'rx="5" ry="5"'),
        ('ry="5"', 'rx="5" ry="5"'),
        ('rx="auto" ry="5"', 'rx="5" ry="5"'),
        ('rx="99" ry="5"', 'rx="20" ry="5"'),
        ('rx="0" ry="5"', ""),
    ],
)
def test_corner_radii_follow_the_rules_of_svg(radii: str, same_as: str) -> None:
    """SVG 2, 10.2: a missing radius takes the other's value, both are at most half the side."""
    one = trace(f'<rect x="9" y="9" width="40" height="30" {radii}/>')
    other = trace(f'<rect x="9" y="9" width="40" height="30" {same_as}/>')
    assert one.lines == other.lines


# Path syntax


@pytest.mark.parametrize(
    ("one", "same"),
    [
        ("M10 10L50 10L50 50Z", "m10,10 40,0 0,40z"),
        ("M10 10L50 10L50 50Z", "M10 10H50V50Z"),
        ("M10 10L50 10L50 50Z", "M10 10h40v40z"),
        ("M10 10L50 10L50 50Z", "M 1e1 +10. 5.0E1,10 50 .5e2 z"),
        ("M10-5L50.5.25L5-5Z", "M10 -5 L50.5 0.25 L5 -5Z"),
        ("M10 10C20 0 30 0 40 10S60 20 70 10Z", "M10 10C20 0 30 0 40 10C50 20 60 20 70 10Z"),
        ("M10 10c10-10 20-10 30 0s20 10 30 0z", "M10 10C20 0 30 0 40 10C50 20 60 20 70 10Z"),
        ("M10 10S30 0 40 10Z", "M10 10C10 10 30 0 40 10Z"),
        ("M10 10Q20 0 30 10T50 10Z", "M10 10Q20 0 30 10Q40 20 50 10Z"),
        ("M10 10q10-10 20 0t20 0z", "M10 10Q20 0 30 10Q40 20 50 10Z"),
        ("M10 10T50 10L50 40Z", "M10 10L50 10L50 40Z"),
        ("M10 10a20 20 0 0120 20z", "M10 10A20,20,0,0,1,30,30Z"),
        ("M10 10a20 20 0 01.5.5L40 40z", "M10 10A20 20 0 0 1 10.5 10.5L40 40Z"),
        ("M10 10A0 5 0 1 1 40 40V10z", "M10 10L40 40V10Z"),
        ("M10 10A20 20 0 0 1 10 10H40V40z", "M10 10H40V40Z"),
        ("M10 10A-20 20 0 0 1 30 30z", "M10 10A20 20 0 0 1 30 30Z"),
        ("M10 10H40V40zl20 30 10-9z", "M10 10H40V40zM10 10l20 30 10-9z"),
    ],
)
def test_two_spellings_of_one_path_are_one_path(one: str, same: str) -> None:
    first, second = (
        [flatten(curve, Budget()) for curve in parse_path(d, "the path", Budget())]
        for d in (one, same)
    )
    assert len(first) == len(second)
    for a, b in zip(first, second, strict=True):
        assert a == pytest.approx(b, abs=1e-9)


@pytest.mark.parametrize(
    ("d", "position"),
    [
        ("M10 1O", 6),
        ("M10 10 L20 nan 5 5", 12),
        ("M10 10 L Infinity 5", 10),
        ("10 10 L20 20", 1),
        ("L10 10", 1),
        ("M10 10 L20", 11),
        ("M10 10, L20 20", 9),
        ("M10 10 20 20,,30 30", 14),
        ("M10 10 Z 5 5", 10),
        ("M10 10 A5 5 0 2 0 20 20", 15),
        ("M10 10 X20 20", 8),
        ("M10 10 L0x10 5", 10),
        ("M10 10 L20 20 ;", 15),
    ],
)
def test_a_mistake_in_a_path_stops_it_and_says_where(d: str, position: int) -> None:
    tracing = trace(f'<path id="fin" d="{d}"/><rect width="9" height="9"/>')
    assert len(tracing.lines) == 1, "the rest of the drawing is still read"
    (finding,) = tracing.findings
    assert (finding.code, str(finding.weight)) == ("syntax", "stop")
    assert f"at character {position}:" in finding.message
    assert "“fin”" in finding.message
    assert "line 1" in finding.message


@pytest.mark.parametrize("number", ["1e400", "-1e309", "1e10", "9" * 50])
def test_a_number_beyond_any_drawing_is_refused(number: str) -> None:
    tracing = trace(f'<path d="M0 0H{number}V9z"/><rect width="9" height="9"/>')
    assert codes(tracing.findings) == ["number-huge"]


# Arcs: endpoint to centre form, W3C SVG 1.1 implementation notes F.6.5 (from memory)

ARCS = st.tuples(
    st.floats(-50, 50), st.floats(-50, 50), st.floats(-50, 50), st.floats(-50, 50),
    st.floats(0.5, 60), st.floats(0.5, 60), st.floats(-180, 180), st.booleans(), st.booleans(),
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(ARCS)
def test_an_arc_meets_its_ends_and_keeps_its_flags(arc: tuple[Any, ...]) -> None:
    x1, y1, x2, y2, rx, ry, turn, large, sweep = arc
    if math.hypot(x2 - x1, y2 - y1) < 0.01:
        return
    span = arc_between((x1, y1), (x2, y2), rx, ry, turn, large, sweep)
    assert isinstance(span, Arc)
    assert span.at(span.start_rad) == pytest.approx((x1, y1), abs=1e-5)
    assert span.at(span.start_rad + span.sweep_rad) == pytest.approx((x2, y2), abs=1e-5)
    assert (span.sweep_rad > 0) == sweep
    ratio = span.half_axes[0] / span.half_axes[1]
    assert ratio == pytest.approx(max(rx, ry) / min(rx, ry), rel=1e-6)
    if span.half_axes[0] > max(rx, ry) * (1 + 1e-9):  # F.6.6: scaled up until it just reaches
        assert abs(span.sweep_rad) == pytest.approx(math.pi, abs=1e-3)
    elif abs(abs(span.sweep_rad) - math.pi) > 1e-6:
        assert (abs(span.sweep_rad) > math.pi) == large


@settings(max_examples=100, deadline=None)
@given(ARCS)
def test_flattened_arcs_agree_with_svgpathtools(arc: tuple[Any, ...]) -> None:
    x1, y1, x2, y2, rx, ry, turn, large, sweep = arc
    if math.hypot(x2 - x1, y2 - y1) < 0.5:
        return
    d = f"M{x1:.6f} {y1:.6f}A{rx:.6f} {ry:.6f} {turn:.6f} {large:d} {sweep:d} {x2:.6f} {y2:.6f}"
    (curve,) = parse_path(d, "the path", Budget())
    ours = shapely.LineString(flatten(curve, Budget()))
    theirs = svgpathtools.parse_path(d)
    for step in range(0, 41):
        point = theirs.point(step / 40)
        assert ours.distance(shapely.Point(point.real, point.imag)) <= TOLERANCE


# Béziers against svgpathtools: every true point near our line, every vertex near the true curve

CUBICS = st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=4, max_size=4)


@settings(max_examples=150, deadline=None)
@given(CUBICS)
def test_flattened_cubics_stay_within_the_tolerance(points: list[tuple[float, float]]) -> None:
    numbers = [f"{x:.4f} {y:.4f}" for x, y in points]
    d = f"M{numbers[0]}C{' '.join(numbers[1:])}"
    (curve,) = parse_path(d, "the path", Budget())
    vertices = flatten(curve, Budget())
    if math.dist(vertices.min(axis=0), vertices.max(axis=0)) < 1e-6:
        return
    ours = shapely.LineString(vertices)
    theirs = svgpathtools.parse_path(d)[0]
    true = [theirs.point(step / 400) for step in range(401)]
    dense = shapely.LineString([(p.real, p.imag) for p in true])
    assert max(ours.distance(shapely.Point(p.real, p.imag)) for p in true) <= TOLERANCE
    assert max(dense.distance(shapely.Point(v)) for v in vertices) <= TOLERANCE + 0.01
    assert len(vertices) <= 4 + 12 * math.sqrt(dense.length / TOLERANCE)  # few, not thousands


# Whole files with transforms, against svgelements

TRANSFORMS = st.lists(
    st.one_of(
        st.builds("translate({:.3f} {:.3f})".format, st.floats(-9, 9), st.floats(-9, 9)),
        st.builds("translate({:.3f})".format, st.floats(-9, 9)),
        st.builds("scale({:.3f})".format, st.floats(0.4, 1.6)),
        st.builds("scale({:.3f},{:.3f})".format, st.floats(0.4, 1.6), st.floats(-1.6, -0.4)),
        st.builds("rotate({:.3f})".format, st.floats(-360, 360)),
        st.builds(
            "rotate({:.3f}, {:.3f}, {:.3f})".format,
            st.floats(-360, 360), st.floats(-9, 9), st.floats(-9, 9),
        ),
        st.builds("skewX({:.3f})".format, st.floats(-40, 40)),
        st.builds("skewY({:.3f})".format, st.floats(-40, 40)),
        st.builds(
            "matrix({:.3f} {:.3f} {:.3f} {:.3f} {:.3f} {:.3f})".format,
            st.floats(0.6, 1.4), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4),
            st.floats(0.6, 1.4), st.floats(-9, 9), st.floats(-9, 9),
        ),
    ),
    max_size=3,
)  # fmt: skip
SHAPES = [
    '<path d="M0 0C8 -9 12 9 20 3S9 22 4 14Q1 9 1 5T0 2Z"/>',
    '<path d="m2 2h9a4 6 20 1 1-3 9q-4 2-5-3z"/>',
    '<rect x="1" y="2" width="14" height="9" rx="2" ry="3"/>',
    '<ellipse cx="4" cy="5" rx="9" ry="4"/>',
    '<circle cx="4" cy="5" r="7"/>',
    '<polygon points="0,0 12,3 9,14 2,9"/>',
]


@settings(max_examples=150, deadline=None)
@given(TRANSFORMS, TRANSFORMS, st.sampled_from(SHAPES))
def test_nested_transforms_agree_with_svgelements(
    outer: list[str], inner: list[str], shape: str
) -> None:
    body = f'<g transform="{" ".join(outer)}"><g transform="{",".join(inner)}">{shape}</g></g>'
    file = svg(inked(body))
    # Its own arcs go wrong under a skew, so its points are mapped by its matrix instead.
    parsed = svgelements.SVG.parse(io.StringIO(file), ppi=25.4, reify=False)
    (theirs,) = (each for each in parsed.elements() if isinstance(each, svgelements.Shape))
    steps = [step / 60 for step in range(61)]
    points = [
        theirs.transform.point_in_matrix_space(svgelements.Point(x, y))
        for segment in theirs.segments(transformed=False)
        if not isinstance(segment, svgelements.Move)
        for x, y in segment.npoint(steps)
    ]
    left, top, right, bottom = shapely.MultiPoint(points).bounds
    assume(max(right - left, bottom - top) > 0.2)  # smaller ones are refused as a drawing's size
    ours = read_pattern(file.encode())
    line = LinearRing([(x, 100 - y) for x, y in ours.lines[0].points])
    assert len(ours.lines) == 1
    for x, y in points:
        assert line.distance(shapely.Point(x, y)) <= TOLERANCE


def test_transforms_act_from_the_outside_inwards() -> None:
    rect = '<rect transform="rotate(90) scale(2 1)" width="5" height="3"/>'
    body = f'<g transform="translate(50,50)">{rect}</g>'
    assert box(trace(body)) == pytest.approx((47, 50, 50, 60), abs=1e-6)


@pytest.mark.parametrize(
    "transform",
    [
        'transform="rotate(90 20 20)"',
        'style="transform:rotate(90deg);transform-origin:20px 20px"',
        'style="transform:rotate(.25turn)" transform-origin="20 20"',
        'style="transform: rotate(100grad)" transform-origin="20% 20%"',
    ],
)
def test_css_transforms_and_origins(transform: str) -> None:
    assert box(trace(f'<rect x="20" y="20" width="30" height="10" {transform}/>')) == (
        pytest.approx((10, 20, 20, 50), abs=1e-6)
    )


def test_origin_words_name_corners_of_the_viewbox() -> None:
    body = (
        '<rect x="90" width="10" height="20" transform="rotate(90)" transform-origin="right top"/>'
    )
    assert box(trace(body)) == pytest.approx((80, -10, 100, 0), abs=1e-6)


@pytest.mark.parametrize(
    ("transform", "code"),
    [
        ("scale(0)", "transform-flat"),
        ("scale(1 0)", "transform-flat"),
        ("matrix(1 2 2 4 0 0)", "transform-flat"),
        ("rotate(1 2)", "transform-count"),
        ("turn(9)", "transform-unknown"),
        ("scale(2", "syntax"),
        ("scale(2,)", "syntax"),
        ("translate(1 2) 3", "syntax"),
        ("rotate(5em)", "unit-unknown"),
        ("scale(1e400)", "number-huge"),
        ("translate(0)" * 500, "transform-long"),
    ],
)
def test_a_transform_that_cannot_be_is_a_stop(transform: str, code: str) -> None:
    tracing = trace(
        f'<rect width="9" height="9" transform="{transform}"/><circle cx="50" cy="50" r="9"/>'
    )
    assert codes(tracing.findings) == [code]
    assert len(tracing.lines) == 1


# Re-use, and groups within groups


def test_use_places_a_definition_with_its_own_shift_and_transform() -> None:
    body = (
        '<defs><g id="fin"><rect id="inner" width="10" height="5"/></g></defs>'
        '<use href="#fin" x="20" y="30"/>'
        '<use xlink:href="#inner" transform="translate(60 60) rotate(90)" x="5"/>'
    )
    tracing = trace(body)
    assert [(line.closed, len(line.points)) for line in tracing.lines] == [(True, 4)] * 2
    first = Polygon(tracing.lines[0].points).bounds
    second = Polygon(tracing.lines[1].points).bounds
    assert first == pytest.approx((20, 65, 30, 70), abs=1e-6)
    assert second == pytest.approx((55, 25, 60, 35), abs=1e-6)


def test_a_symbol_takes_its_size_from_the_use() -> None:
    body = (
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<use href="#s" x="10" y="10" width="40" height="20"/>'
    )
    assert box(trace(body)) == pytest.approx((20, 10, 40, 30), abs=1e-6)  # centred, meet


def test_a_symbol_without_a_use_is_not_drawn_and_one_without_size_fills_the_page() -> None:
    symbol = '<symbol id="s" viewBox="0 0 50 50"><rect width="10" height="10"/></symbol>'
    assert box(trace(symbol + '<use href="#s"/>')) == pytest.approx((0, 0, 20, 20), abs=1e-6)


def test_nested_svg_shifts_scales_and_resets_percentages() -> None:
    body = (
        '<svg x="10" y="20" width="50%" height="50" viewBox="0 0 25 25">'
        '<rect x="5" width="20%" height="20%"/></svg>'
    )
    assert box(trace(body)) == pytest.approx((20, 20, 30, 30), abs=1e-6)


def test_a_use_of_a_nested_svg_overrides_its_size() -> None:
    body = (
        '<defs><svg id="s" width="10" height="10" viewBox="0 0 10 10">'
        '<rect width="10" height="10"/></svg></defs><use href="#s" width="30" height="30"/>'
    )
    assert box(trace(body)) == pytest.approx((0, 0, 30, 30), abs=1e-6)


def test_switch_draws_only_the_first_child_it_accepts() -> None:
    body = (
        '<switch><rect requiredExtensions="http://example.org/x" width="9" height="9"/>'
        '<rect width="20" height="20"/><rect width="40" height="40"/></switch>'
    )
    assert box(trace(body)) == pytest.approx((0, 0, 20, 20), abs=1e-6)


@pytest.mark.parametrize(
    "body",
    [
        '<g id="a"><use href="#a"/></g>',
        '<use id="a" href="#a"/>',
        '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
        '<symbol id="a"><use href="#a"/></symbol><use href="#a"/>',
    ],
)
def test_a_shape_that_repeats_itself_is_refused(body: str) -> None:
    tracing = trace(body + '<rect width="9" height="9"/>')
    assert set(codes(tracing.findings)) == {"use-loop"}
    assert len(tracing.lines) == 1


@pytest.mark.parametrize("link", ["#gone", "other.svg#fish", "file:///etc/passwd", ""])
def test_a_use_of_something_not_in_the_file_is_a_stop(link: str) -> None:
    tracing = trace(f'<use href="{link}"/><rect width="9" height="9"/>')
    assert codes(tracing.findings) == ["use-missing"]


# What is seen


@pytest.mark.parametrize(
    "hidden",
    [
        '<rect width="50" height="50" display="none"/>',
        '<g style="display:none"><rect width="50" height="50"/></g>',
        '<g visibility="hidden"><rect width="50" height="50"/></g>',
        '<style>.off{display:none}</style><rect class="off" width="50" height="50"/>',
        '<style>g#no rect{visibility:hidden}</style><g id="no"><rect width="50" height="50"/></g>',
        '<style>rect{display:none}</style><rect width="50" height="50" display="inline"/>',
        '<defs><rect width="50" height="50"/></defs>',
        '<clipPath><rect width="50" height="50"/></clipPath>',
        '<x:rect xmlns:x="http://example.org/other" width="50" height="50"/>',
    ],
)
def test_what_is_not_displayed_is_not_read(hidden: str) -> None:
    tracing = trace(hidden + '<circle cx="80" cy="80" r="9"/>')
    assert [line.element for line in tracing.lines] == ["circle"]
    assert tracing.findings == ()


def test_a_visible_child_of_a_hidden_group_is_read() -> None:
    body = '<g visibility="hidden"><rect width="50" height="50" visibility="visible"/></g>'
    assert len(trace(body).lines) == 1


def test_styles_follow_the_cascade() -> None:
    body = (
        "<style>.a{display:none} #b{display:inline} rect{display:none !important}</style>"
        '<circle class="a" id="b" cx="20" cy="20" r="9"/>'
        '<circle class="a" style="display:inline" cx="60" cy="20" r="9"/>'
        '<rect style="display:inline" width="5" height="5"/>'
    )
    assert [line.element for line in trace(body).lines] == ["circle", "circle"]


def test_geometry_may_come_from_a_style_sheet() -> None:
    body = "<style>circle{r:12mm;cx:50px;cy:50px}</style><circle r='3'/>"
    line = trace(body).lines[0]
    assert line.round is not None
    # 12 mm is 45.35 px of user units, each drawn as one millimetre on this page
    assert line.round.diameter_mm == pytest.approx(2 * 12 * 96 / 25.4, abs=1e-5)


def test_lines_without_fill_and_stroke_are_left_out_and_told() -> None:
    data = svg('<rect width="90" height="90" fill="none"/><circle cx="50" cy="50" r="9"/>')
    tracing = read_pattern(data.encode())
    assert [line.element for line in tracing.lines] == ["circle"]
    assert codes(tracing.findings) == ["line-unseen"]


def test_if_no_line_can_be_seen_all_are_read() -> None:
    data = svg('<rect width="90" height="90" fill="none"/>')
    tracing = read_pattern(data.encode())
    assert len(tracing.lines) == 1
    assert codes(tracing.findings) == ["line-unseen"]


def test_the_white_sheet_behind_the_drawing_is_not_a_piece() -> None:
    data = svg('<rect width="100%" height="100%" fill="#FFF"/><circle cx="50" cy="50" r="9"/>')
    tracing = read_pattern(data.encode())
    assert [line.element for line in tracing.lines] == ["circle"]
    assert codes(tracing.findings) == ["background"]


def test_an_outline_as_large_as_the_page_is_a_piece_when_it_is_drawn() -> None:
    body = '<rect width="100" height="100"/><circle cx="50" cy="50" r="9"/>'
    assert len(trace(body).lines) == 2
    assert len(read_pattern(svg(body).encode()).lines) == 2


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("<text>Gull</text>", "text-unread"),
        ('<image href="x.png" width="9" height="9"/>', "image-unread"),
        ("<foreignObject/>", "foreignobject-unread"),
        ('<circle cx="9" cy="9" r="5" clip-path="url(#c)"/>', "clip-unread"),
        ('<g mask="url(#m)"/>', "mask-unread"),
        ('<g style="filter:blur(2px)"/>', "filter-unread"),
        ('<g marker-end="url(#arrow)"/>', "marker-unread"),
        ("<style>rect:hover{fill:red}</style>", "style-unread"),
        ("<style>@import 'x.css';</style>", "style-unread"),
    ],
)
def test_what_cannot_be_sawn_is_told_with_how_to_mend_it(body: str, code: str) -> None:
    tracing = trace(body + '<rect x="20" y="20" width="50" height="50"/>')
    assert codes(tracing.findings) == [code]
    assert str(tracing.findings[0].weight) == "caution"
    assert tracing.findings[0].mend


def test_a_file_without_svg_namespace_is_read_too() -> None:
    data = b'<svg width="9mm" height="9mm" viewBox="0 0 9 9"><path d="M1 1h5v5z"/></svg>'
    assert len(read_pattern(data).lines) == 1
