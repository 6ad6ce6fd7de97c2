"""Units, page size and viewBox: a millimetre in the file is a millimetre on the metal."""

from __future__ import annotations

import pytest

from studio.core.reading import PatternError, read_pattern

from .drawn import codes, svg, trace

SQUARE = '<rect x="10" y="20" width="30" height="40" fill="none" stroke="black"/>'

# CSS Values and Units: 1in = 25.4mm = 96px = 72pt = 6pc, 1cm = 10mm, 1Q = 0.25mm (from memory).
UNITS_PER_INCH = {
    "in": 1,
    "mm": 25.4,
    "cm": 2.54,
    "Q": 101.6,
    "px": 96,
    "pt": 72,
    "pc": 6,
    "": 96,
}


@pytest.mark.parametrize(("unit", "per_inch"), UNITS_PER_INCH.items())
def test_a_page_of_two_inches_is_50_8_mm_in_every_unit(unit: str, per_inch: float) -> None:
    size = f"{2 * per_inch:g}{unit}"
    data = svg(SQUARE, width=size, height=size, box="0 0 100 100").encode()
    tracing = read_pattern(data)
    assert tracing.source.width_mm == pytest.approx(50.8, abs=1e-9)
    assert tracing.bounds_mm == pytest.approx((5.08, 20.32, 20.32, 40.64), abs=1e-5)


@pytest.mark.parametrize(("unit", "per_inch"), UNITS_PER_INCH.items())
def test_lengths_on_shapes_have_units_of_their_own(unit: str, per_inch: float) -> None:
    side = f"{per_inch:g}{unit}"
    tracing = trace(f'<rect width="{side}" height="{side}"/>', width="4in", height="4in", box="")
    assert tracing.bounds_mm == pytest.approx((0, 76.2, 25.4, 101.6), abs=1e-5)


def test_percentages_refer_to_the_viewbox() -> None:
    tracing = trace('<rect x="10%" y="50%" width="20%" height="10%"/>', box="0 0 200 50")
    # 200 by 50 units in 100 by 100 mm: half a millimetre each, in the middle of the page
    assert tracing.bounds_mm == pytest.approx((10, 47.5, 30, 50), abs=1e-6)


def test_percent_radius_refers_to_the_diagonal() -> None:
    tracing = trace('<circle cx="50" cy="50" r="10%"/>', width="60mm", height="80mm", box="")
    line = tracing.lines[0]
    assert line.round is not None
    assert line.round.diameter_mm == pytest.approx(2 * 0.1 * 100 / 2**0.5, abs=1e-5)


def test_y_points_up_and_the_drawing_is_not_mirrored() -> None:
    flag = trace('<path d="M10 90V10H30V30H12V90Z"/>')
    highest = max(flag.lines[0].points, key=lambda point: (point[1], point[0]))
    assert highest == (30.0, 90.0)


@pytest.mark.parametrize(
    ("page", "size"),
    [
        ({"width": "", "height": "", "box": "0 0 96 96"}, 25.4),
        ({"width": "96", "height": "96", "box": ""}, 25.4),
        ({"width": "100%", "height": "100%", "box": "0 0 96 96"}, 25.4),
        ({"width": "192px", "height": "192px", "box": "0 0 96 96"}, 50.8),
    ],
)
def test_a_page_without_physical_size_is_read_at_96_and_says_so(
    page: dict[str, str], size: float
) -> None:
    tracing = trace('<rect width="96" height="96"/>', **page)
    assert tracing.bounds_mm[2] == pytest.approx(size, abs=1e-6)
    assert codes(tracing.findings) == ["scale-assumed"]
    assert f"{size:.1f} mm wide" in tracing.findings[0].message
    assert tracing.source.scale_from == "file"


def test_one_physical_side_and_a_viewbox_are_enough() -> None:
    tracing = trace('<rect width="50" height="25"/>', width="100mm", height="", box="0 0 50 25")
    assert tracing.findings == ()
    assert (tracing.source.width_mm, tracing.source.height_mm) == pytest.approx((100, 50))


def test_a_given_width_is_the_width_of_the_lines_and_overrides_the_units() -> None:
    body = (
        '<g fill="none" stroke="black"><circle cx="40" cy="40" r="7"/><path d="M60 40h9v9z"/></g>'
    )
    tracing = read_pattern(svg(body).encode(), width_mm=72)
    x0, _, x1, _ = tracing.bounds_mm
    assert x1 - x0 == pytest.approx(72, abs=0.02)
    assert tracing.source.scale_from == "option"
    assert "scale-assumed" not in codes(tracing.findings)


def test_a_given_width_rescues_a_drawing_in_absurd_units() -> None:
    body = '<rect width="9e7" height="9e7" fill="none" stroke="black"/>'
    data = svg(body, width="", height="", box="").encode()
    with pytest.raises(PatternError):
        read_pattern(data)
    assert read_pattern(data, width_mm=40).bounds_mm[2] == pytest.approx(40, abs=0.01)


def test_dots_per_inch_serve_where_the_file_has_no_physical_size() -> None:
    data = svg('<rect width="72" height="36"/>', width="", height="", box="0 0 72 72").encode()
    tracing = read_pattern(data, dpi=72)
    assert tracing.bounds_mm[2] == pytest.approx(25.4)
    assert tracing.source.scale_from == "resolution"
    sized = svg('<rect width="72" height="36"/>', width="72mm", height="72mm", box="0 0 72 72")
    assert read_pattern(sized.encode(), dpi=72).bounds_mm[2] == pytest.approx(72)


@pytest.mark.parametrize("width", [0.0, -3.0, float("nan"), float("inf"), 1e9])
def test_a_senseless_width_is_refused(width: float) -> None:
    with pytest.raises(PatternError) as refused:
        read_pattern(svg(SQUARE).encode(), width_mm=width)
    assert refused.value.code == "option-bad"


# preserveAspectRatio: where a 10 by 10 box lands in a viewport of 40 by 20 (SVG 2, 8.6)
ASPECTS = {
    "none": (0, 0, 40, 20),
    "xMinYMin meet": (0, 0, 20, 20),
    "xMidYMid meet": (10, 0, 30, 20),
    "xMaxYMax": (20, 0, 40, 20),
    "xMinYMin slice": (0, 0, 40, 40),
    "xMidYMid slice": (0, -10, 40, 30),
    "xMaxYMax slice": (0, -20, 40, 20),
    "xMinYMax slice": (0, -20, 40, 20),
    "xMaxYMin slice": (0, 0, 40, 40),
    "": (10, 0, 30, 20),
}


@pytest.mark.parametrize(("aspect", "expected"), ASPECTS.items())
def test_a_viewbox_of_another_proportion_is_fitted(
    aspect: str, expected: tuple[float, float, float, float]
) -> None:
    body = (
        f'<svg width="40" height="20" viewBox="0 0 10 10" preserveAspectRatio="{aspect}">'
        '<rect width="10" height="10"/></svg>'
    )
    x0, y0, x1, y1 = trace(body).bounds_mm
    assert (x0, 100 - y1, x1, 100 - y0) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    "page",
    [
        {"width": "0", "height": "10mm", "box": ""},
        {"width": "10mm", "height": "-1mm", "box": ""},
        {"width": "10mm", "height": "10mm", "box": "0 0 0 10"},
        {"width": "10mm", "height": "10mm", "box": "0 0 10"},
        {"width": "10mm", "height": "10mm", "box": "0 0 10 NaN"},
        {"width": "1e400mm", "height": "10mm", "box": ""},
        {"width": "10em", "height": "10em", "box": ""},
    ],
)
def test_a_page_without_a_size_that_can_be_read_is_refused(page: dict[str, str]) -> None:
    with pytest.raises(PatternError) as refused:
        trace(SQUARE, **page)
    assert refused.value.message
    assert refused.value.mend
