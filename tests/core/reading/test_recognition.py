"""What each line is taken for, how loose lines are joined, and what a student may re-label."""

from __future__ import annotations

import json

import pytest

from studio.core.drawing import DrillKind, Weight
from studio.core.reading import Label, Tracing, assemble, read_pattern

from .drawn import codes, inked, read, svg, trace

OUTLINE = '<rect x="10" y="10" width="60" height="60"/>'
WINDOW = '<rect x="20" y="20" width="20" height="20"/>'


def labels(body: str, **asked: str) -> str:
    found = read(body, {key[1:]: label for key, label in asked.items()})
    return " ".join(found.labels.values())


def test_what_lies_in_what_decides_outline_window_and_piece_in_a_window_whatever_the_fill() -> None:
    rings = "".join(
        f'<circle cx="50" cy="50" r="{r}" fill="{fill}"/>'
        for r, fill in ((45, "red"), (35, "none"), (25, "blue"), (15, "white"))
    )
    found = read(rings)
    assert list(found.labels.values()) == ["outline", "window", "outline", "window"]
    assert [len(piece.outline.interiors) for piece in found.drawing.pieces] == [1, 1]
    assert [piece.id for piece in found.drawing.pieces] == ["1", "2"]


def test_document_order_numbers_pieces_also_when_windows_come_first() -> None:
    found = read(WINDOW + OUTLINE + '<circle cx="85" cy="85" r="9"/>')
    assert list(found.labels.values()) == ["window", "outline", "outline"]
    assert found.drawing.pieces[0].outline.bounds == pytest.approx((10, 30, 70, 90))
    assert found.pieces_of == {"1": "1", "2": "1", "3": "2"}


def test_small_circles_are_drill_marks_of_three_kinds() -> None:
    marks = (
        '<circle cx="13" cy="60" r="0.8"/>'  # 3 mm from the left edge: for a ring
        '<circle cx="55" cy="55" r="1"/>'  # in the middle of metal: a rivet
        '<circle cx="30" cy="30" r="0.5"/>'  # in the window: a pilot
        '<circle cx="55" cy="30" r="1.8"/>'  # 3.6 mm: too large for a drill, a window
    )
    found = read(OUTLINE + WINDOW + marks)
    assert " ".join(found.labels.values()) == "outline window ring rivet pilot window"
    kinds = [mark.kind for mark in found.drawing.pieces[0].drill_marks]
    assert kinds == [DrillKind.RING, DrillKind.RIVET, DrillKind.PILOT]
    ring = found.drawing.pieces[0].drill_marks[0]
    assert (ring.x_mm, ring.y_mm, ring.diameter_mm) == pytest.approx((13, 40, 1.6))
    assert len(found.drawing.pieces[0].outline.interiors) == 2


def test_a_round_path_is_a_drill_mark_and_a_small_square_is_not() -> None:
    # four cubic quarter circles, as drawing programs write them
    k = 0.5522847
    path = (
        f"M51 50C51 {50 + k} {50 + k} 51 50 51S49 {50 + k} 49 50 {50 - k} 49 50 49"
        f"S51 {50 - k} 51 50Z"
    )
    found = read(OUTLINE + f'<path d="{path}"/><rect x="30" y="30" width="2" height="2"/>')
    assert " ".join(found.labels.values()) == "outline rivet window"
    assert found.drawing.pieces[0].drill_marks[0].diameter_mm == pytest.approx(2.0, abs=0.01)


def test_the_cross_drawn_in_a_drill_mark_is_left_out() -> None:
    cross = '<circle cx="50" cy="50" r="1"/><path d="M48.6 50h2.8M50 48.6v2.8"/>'
    found = read(OUTLINE + cross)
    assert " ".join(found.labels.values()) == "outline rivet ignore ignore"
    assert found.findings == ()


def test_a_lone_small_circle_is_a_piece() -> None:
    assert labels('<circle cx="5" cy="5" r="1"/>') == "outline"


def test_an_open_line_on_a_piece_is_a_surface_line_also_right_up_to_the_edge() -> None:
    found = read(OUTLINE + '<path d="M10 50H70"/><path d="M20 60C30 55 40 65 50 60"/>')
    assert " ".join(found.labels.values()) == "outline surface surface"
    assert len(found.drawing.pieces[0].surface_lines) == 2
    assert found.findings == ()


def test_a_surface_line_keeps_only_what_lies_on_metal() -> None:
    found = read(OUTLINE + WINDOW + '<path d="M15 30H60"/>')
    assert codes(found.findings) == ["surface-over-window"]
    assert sorted(line.length for line in found.drawing.pieces[0].surface_lines) == pytest.approx(
        [5, 20]
    )


def test_an_open_line_outside_every_piece_is_a_stop_with_the_middle_of_its_gap() -> None:
    found = read('<path d="M10 10H60V60H10V11"/>')
    (finding,) = found.findings
    assert (finding.code, finding.weight) == ("line-open", Weight.STOP)
    assert finding.at == pytest.approx((10, 89.5))
    assert finding.value_mm == pytest.approx(1.0)
    assert found.labels == {"1": Label.OPEN}
    assert found.drawing.pieces == ()


def test_an_open_line_over_the_edge_is_a_stop() -> None:
    found = read(OUTLINE + '<path d="M50 50H90"/>')
    assert codes(found.findings) == ["line-open"]
    assert found.findings[0].at == pytest.approx((80, 50))


def test_loose_lines_in_any_order_and_direction_become_one_outline() -> None:
    found = read(
        '<line x1="10" y1="10" x2="60" y2="10"/><path d="M10 60V10"/>'
        '<polyline points="60,10 60,60"/><path d="M10 60C20 70 50 70 60 60"/>'
    )
    assert list(found.labels.values()) == ["outline"]
    assert found.findings == ()
    # the square plus the area under one cubic arch: 3/4 of control height 10 over mixed base
    assert found.drawing.pieces[0].outline.area > 2500


@pytest.mark.parametrize(("gap", "healed"), [(0.0005, True), (0.09, True), (0.11, False)])
def test_gaps_up_to_a_tenth_of_a_millimetre_are_healed(gap: float, healed: bool) -> None:
    tracing = trace(f'<path d="M10 10H60V60H10V{10 + gap}"/>')
    assert tracing.lines[0].closed is healed
    if healed and gap > 0.01:
        (finding,) = tracing.findings
        assert finding.code == "gap-healed"
        assert finding.value_mm == pytest.approx(gap)
        assert finding.at == pytest.approx((10, 90 - gap / 2), abs=1e-6)


@pytest.mark.parametrize("step", [0.2, 0.05, 0.01])
def test_an_outline_of_hundreds_of_tiny_loose_lines_is_joined(step: float) -> None:
    points = [(10 + x * step, 10.0) for x in range(400)] + [(30.0, 30.0)]
    steps = "".join(
        f"M{x0:.4f} {y0}L{x1:.4f} {y1}"
        for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True)
    )
    tracing = trace(f'<path d="{steps}"/>')
    assert [(line.closed, len(line.points)) for line in tracing.lines] == [(True, 401)]
    assert tracing.findings == ()


def test_three_lines_that_meet_are_not_guessed_at() -> None:
    found = read('<path d="M10 10H60"/><path d="M10 10V60"/><path d="M10 10L60 60"/>')
    assert set(codes(found.findings)) == {"line-open"}
    assert any("lines meet here" in finding.message for finding in found.findings)


def test_a_vein_that_starts_on_a_closed_path_without_z_does_not_open_it() -> None:
    found = read('<path d="M10 10H60V60H10V10"/><path d="M10 10L40 40"/>')
    assert list(found.labels.values()) == ["outline", "surface"]
    assert found.findings == ()


@pytest.mark.parametrize(
    "copy",
    [
        '<path d="M10 10H70V70H10Z" fill="gold" stroke="none"/>',
        '<path d="M70 70V10H10V70Z"/>',  # other start, other way round
        '<rect x="10.01" y="10" width="60" height="60"/>',
    ],
)
def test_a_line_drawn_twice_is_read_once(copy: str) -> None:
    found = trace(OUTLINE + copy)
    assert len(found.lines) == 1
    assert codes(found.findings) == ["line-double"]


def test_two_lines_a_tenth_apart_are_two_lines() -> None:
    assert len(trace(OUTLINE + '<rect x="10.1" y="10.1" width="59.8" height="59.8"/>').lines) == 2


def test_stray_dots_are_left_out_and_told() -> None:
    found = trace(OUTLINE + '<circle cx="5" cy="5" r="0.01"/><path d="M1 1h0.01"/>')
    assert len(found.lines) == 1
    assert codes(found.findings) == ["line-speck"]


def test_a_closed_line_without_an_inside_is_an_open_line() -> None:
    found = read(OUTLINE + '<path d="M20 50H60Z"/>')
    assert " ".join(found.labels.values()) == "outline surface"


# Traps: each was got wrong by some reader of outlines


def test_a_bow_tie_is_refused_at_its_crossing_though_its_area_is_zero() -> None:
    found = read('<path d="M10 10L30 30V10L10 30Z"/>')
    (finding,) = found.findings
    assert (finding.code, finding.weight) == ("line-crosses-itself", Weight.STOP)
    assert finding.at == pytest.approx((20, 80))
    assert found.drawing.pieces == ()


def test_an_outline_that_touches_itself_in_a_point_is_refused() -> None:
    found = read('<path d="M10 10L30 30L50 10V50L30 30L10 50Z"/>')
    assert codes(found.findings) == ["line-crosses-itself"]
    assert found.findings[0].at == pytest.approx((30, 70))


def test_windows_in_a_tangled_outline_do_not_become_pieces() -> None:
    found = read(
        '<path d="M10 10H70V70H10V40L8 42V38L10 40Z"/><circle cx="40" cy="40" r="9"/>'
        '<path d="M50 60h5"/>'
    )
    assert found.drawing.pieces == ()
    assert set(codes(found.findings)) == {"line-crosses-itself"}


def test_outlines_that_cross_are_refused_with_the_point() -> None:
    found = read(OUTLINE + '<rect x="60" y="40" width="30" height="10"/>')
    assert codes(found.findings) == ["lines-cross"]
    assert found.findings[0].at is not None
    assert found.findings[0].at[0] == pytest.approx(70)
    assert found.findings[0].at[1] in (pytest.approx(60), pytest.approx(50))


def test_pieces_that_share_a_corner_or_a_side_are_two_pieces() -> None:
    corner = read('<rect width="20" height="20"/><rect x="20" y="20" width="20" height="20"/>')
    side = read('<rect width="20" height="20"/><rect x="20" width="20" height="20"/>')
    for found in (corner, side):
        assert len(found.drawing.pieces) == 2
        assert found.findings == ()


def test_windows_that_touch_in_a_point_stay_two_windows() -> None:
    found = read(OUTLINE + '<path d="M20 20L40 40L20 60Z"/><path d="M60 20L40 40L60 60Z"/>')
    piece = found.drawing.pieces[0]
    assert piece.outline.is_valid
    assert len(piece.outline.interiors) == 2


def test_windows_that_share_a_side_are_refused() -> None:
    found = read(OUTLINE + WINDOW + '<rect x="40" y="20" width="20" height="20"/>')
    (finding,) = found.findings
    assert (finding.code, finding.weight) == ("window-touches", Weight.STOP)
    assert finding.at is not None
    assert finding.at[0] == pytest.approx(40)
    assert found.drawing.pieces[0].outline.is_valid


def test_a_window_along_the_outline_is_refused() -> None:
    found = read(OUTLINE + '<rect x="10" y="20" width="20" height="20"/>')
    assert codes(found.findings) == ["window-touches"]
    assert found.findings[0].at is not None
    assert found.findings[0].at[0] == pytest.approx(10)


def test_a_window_that_shares_a_corner_with_the_outline_keeps_the_piece_valid() -> None:
    found = read(OUTLINE + '<path d="M10 10L40 20L20 40Z"/>')
    assert found.drawing.pieces[0].outline.is_valid
    assert found.drawing.pieces[0].outline.interiors


# Re-labels


def test_a_student_may_call_a_small_circle_a_window_and_a_window_nothing() -> None:
    body = OUTLINE + WINDOW + '<circle cx="55" cy="55" r="1.5"/>'
    found = read(body, {"3": "window", "2": "ignore"})
    assert list(found.labels.values()) == ["outline", "ignore", "window"]
    assert found.drawing.pieces[0].drill_marks == ()
    assert len(found.drawing.pieces[0].outline.interiors) == 1
    assert found.findings == ()


def test_lines_inside_follow_what_the_student_says_about_the_line_around() -> None:
    body = OUTLINE + WINDOW + '<circle cx="30" cy="30" r="1"/>'
    assert labels(body) == "outline window pilot"
    assert labels(body, _2="ignore") == "outline ignore rivet"
    assert labels(body, _1="ignore") == "ignore outline rivet"
    assert labels(body, _2="surface") == "outline surface rivet"


def test_a_closed_line_can_be_a_surface_line() -> None:
    found = read(OUTLINE + WINDOW, {"2": "surface"})
    (line,) = found.drawing.pieces[0].surface_lines
    assert line.is_closed
    assert line.length == pytest.approx(80)


def test_ring_and_rivet_can_be_exchanged() -> None:
    body = OUTLINE + '<circle cx="55" cy="55" r="1"/>'
    assert labels(body, _2="ring") == "outline ring"


@pytest.mark.parametrize(
    ("line", "label", "code"),
    [
        ("99", "window", "relabel-unknown"),
        ("2", "nonsense", "relabel-impossible"),
        ("2", "open", "relabel-impossible"),
        ("2", "rivet", "relabel-impossible"),  # not round
        ("2", "pilot", "relabel-impossible"),
        ("2", "outline", "relabel-impossible"),  # lies on the metal of a piece
        ("1", "window", "relabel-impossible"),  # lies in no piece
        ("3", "outline", "relabel-impossible"),  # open
        ("4", "pilot", "relabel-impossible"),  # on metal, not in a window
    ],
)
def test_a_relabel_that_cannot_be_is_a_caution_and_changes_nothing(
    line: str, label: str, code: str
) -> None:
    body = OUTLINE + WINDOW + '<path d="M50 60H60"/><circle cx="55" cy="30" r="1"/>'
    found = read(body, {line: label})
    assert [(each.code, each.weight) for each in found.findings] == [(code, Weight.CAUTION)]
    assert " ".join(found.labels.values()) == "outline window surface rivet"


def test_everything_ignored_leaves_no_piece_and_no_error() -> None:
    found = read(OUTLINE + WINDOW, {"1": "ignore", "2": "ignore"})
    assert found.drawing.pieces == ()


def test_a_surface_line_that_lies_nowhere_is_told() -> None:
    found = read('<path d="M10 10H60V60H10V11"/>', {"1": "surface"})
    assert codes(found.findings) == ["surface-outside"]


# What is stored


def test_a_tracing_goes_to_json_and_back_without_change() -> None:
    data = svg(
        inked(
            OUTLINE
            + WINDOW
            + '<circle id="eye" cx="55" cy="55" r="1"/><path d="M11 50c9 9 9 0 20 3"/>'
        )
        + "<text>Gull</text>"
    )
    tracing = read_pattern(data.encode())
    again = Tracing.from_json(json.loads(json.dumps(tracing.to_json())))
    assert again == tracing
    assert assemble(again).drawing == assemble(tracing).drawing


def test_the_same_file_gives_the_same_lines_every_time() -> None:
    data = svg(inked(OUTLINE + WINDOW)).encode()
    assert read_pattern(data) == read_pattern(data)
