"""A layer's or a line's own name says what it holds; what a student says comes before it."""

from __future__ import annotations

from studio.core.drawing import DrillKind
from studio.core.reading import assemble, read_pattern

from .drawn import read
from .dxfs import by_hand, square


def circle(layer: str, diameter: float = 3.0) -> list[object]:
    return [0, "CIRCLE", 8, layer, 10, 20, 20, 20, 40, diameter / 2]


def labels(entities: list[object], relabels: dict[str, str] | None = None) -> list[str]:
    found = assemble(read_pattern(by_hand(entities), filename="a.dxf"), relabels)
    assert found.findings == ()
    return [str(label) for label in found.labels.values()]


def test_a_small_circle_on_a_layer_of_windows_is_a_window() -> None:
    assert labels([*square(40), *circle("WINDOWS")]) == ["outline", "window"]
    assert labels([*square(40), *circle("0")]) == ["outline", "rivet"]


def test_what_the_student_says_comes_before_the_layer() -> None:
    both = [*square(40), *circle("windows")]
    assert labels(both, {"2": "ring"}) == ["outline", "ring"]


def test_a_name_that_cannot_be_true_is_no_finding_but_passed_over() -> None:
    # a window outside every piece, and a hole wider than any drill
    assert labels(square(40, "windows")) == ["outline"]
    assert labels([*square(40), *circle("drill-rings", 12)]) == ["outline", "window"]


def test_a_line_of_an_svg_is_known_by_its_id() -> None:
    body = '<path d="M5 5H45V45H5z"/><circle id="drill-rings-1" cx="25" cy="25" r="2"/>'
    (piece,) = read(body).drawing.pieces
    assert [mark.kind for mark in piece.drill_marks] == [DrillKind.RING]
    assert read(body.replace("drill-rings-1", "drill-rings")).drawing.window_count == 1
