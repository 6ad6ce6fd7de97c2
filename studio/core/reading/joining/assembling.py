"""From a tracing to a drawing: says what each line is and puts the pieces together.

The rule, whatever the file's colours: a closed line around everything is an outline, a closed
line in a piece is a window, a closed line in a window is a piece of its own, and so on
inwards. A small circle is a drill mark: a pilot hole in a window; else for a ring when near
the outside, a rivet otherwise. An open line on a piece is a surface line. What a student
says about a line comes before the rule, and the lines inside it follow from that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shapely.geometry import LinearRing, Point

from studio.core.drawing import Drawing, DrillKind, DrillMark, Finding, Piece, Weight
from studio.core.reading.bounds import DRILL_MAX_ASKED_MM, DRILL_MAX_MM, RING_WEB_MM
from studio.core.reading.labels import DRILL_LABELS, GIVEN_LABELS, LABEL_WORDS, Label
from studio.core.reading.tracing import Line, Round, Tracing
from studio.core.shortening import shortened

from .enclosing import Enclosing, enclose
from .loose_lines import place_open_lines
from .piecing import build_piece


@dataclass(frozen=True, slots=True)
class Assembly:
    """`labels` says for every line id what the line was taken for, re-labels included.

    `findings` are those of the assembly alone, not the tracing's own. `pieces_of` names for
    each line the piece to which it belongs, where there is one.
    """

    drawing: Drawing
    labels: dict[str, Label]
    findings: tuple[Finding, ...]
    pieces_of: dict[str, str] = field(default_factory=dict)


def assemble(tracing: Tracing, relabels: Mapping[str, str] | None = None) -> Assembly:
    """Never raises for what a person may ask: re-labels that cannot be are findings."""
    findings: list[Finding] = []
    asked = _asked(tracing, relabels or {}, findings)
    hinted = _hinted(tracing, asked)
    asked |= hinted
    closed = [
        line
        for line in tracing.lines
        if line.closed and asked.get(line.id) not in (Label.IGNORE, Label.SURFACE)
    ]
    enclosing = enclose(closed)
    labels: dict[str, Label] = {
        each: label for each, label in asked.items() if label in (Label.IGNORE, Label.SURFACE)
    }
    around: dict[str, str | None] = {}
    _label_closed(closed, enclosing, asked, hinted, labels, around, findings)
    _tell_crossings(closed, enclosing, labels, findings)
    pieces, pieces_of = _pieces(tracing, closed, enclosing, labels, around, findings)
    surfaces = place_open_lines(
        [
            line
            for line in tracing.lines
            if line.id not in labels or labels[line.id] is Label.SURFACE
        ],
        pieces,
        enclosing,
        labels,
        pieces_of,
        findings,
    )
    drawing = Drawing(
        tuple(
            Piece(piece.id, piece.outline, piece.drill_marks, tuple(surfaces.get(piece.id, ())))
            for piece in pieces
        )
    )
    ordered = {line.id: labels[line.id] for line in tracing.lines}
    return Assembly(drawing, ordered, shortened(findings), pieces_of)


def _asked(
    tracing: Tracing, relabels: Mapping[str, str], findings: list[Finding]
) -> dict[str, Label]:
    """The re-labels that can be meant; the others become cautions."""
    lines = {line.id: line for line in tracing.lines}
    asked: dict[str, Label] = {}
    for line_id, text in relabels.items():
        line = lines.get(str(line_id))
        if line is None:
            findings.append(
                Finding(
                    "relabel-unknown",
                    Weight.CAUTION,
                    f"Line {str(line_id)[:20]} is not in this drawing; its label is dropped.",
                    "Label the lines of the new drawing again.",
                )
            )
            continue
        label = next((each for each in GIVEN_LABELS if each == text), None)
        if label is None:
            _refuse(line, "There is no such label.", findings)
        elif not line.closed and label not in (Label.SURFACE, Label.IGNORE):
            _refuse(
                line,
                f"An open line cannot be the {LABEL_WORDS[label]}.",
                findings,
                "Close the line in your drawing, or call it a surface line.",
            )
        elif label in DRILL_LABELS and drilled(line, DRILL_MAX_ASKED_MM) is None:
            _refuse(
                line,
                f"Only a circle up to {DRILL_MAX_ASKED_MM:g} mm can be drilled.",
                findings,
                "Draw it as a circle, or call it a window.",
            )
        else:
            asked[line.id] = label
    return asked


def _hinted(tracing: Tracing, asked: Mapping[str, Label]) -> dict[str, Label]:
    """What the file itself says about lines of which the student says nothing.

    On paper only shading tells a window from a line on the metal; in drawings a layer's name may.
    """
    found: dict[str, Label] = {}
    for line in tracing.lines:
        label = next((each for each in GIVEN_LABELS if each == line.hint), None)
        if label is None or line.id in asked:
            continue
        if not line.closed and label is not Label.IGNORE:
            continue  # the rule knows no other name for an open line than surface line
        if label not in DRILL_LABELS or drilled(line, DRILL_MAX_ASKED_MM) is not None:
            found[line.id] = label
    return found


def drilled(line: Line, most_mm: float) -> Round | None:
    """The circle a drill would make of this line, if it is one and not too large."""
    if not line.closed:
        return None
    return line.round if line.round is not None and line.round.diameter_mm <= most_mm else None


def _refuse(
    line: Line, message: str, findings: list[Finding], mend: str = "Choose another label."
) -> None:
    findings.append(
        Finding(
            "relabel-impossible",
            Weight.CAUTION,
            f"Line {line.id}: {message[0].lower()}{message[1:]}",
            mend,
            at=line.points[0],
        )
    )


def _label_closed(
    closed: list[Line],
    enclosing: Enclosing,
    asked: Mapping[str, Label],
    hinted: Mapping[str, Label],
    labels: dict[str, Label],
    around: dict[str, str | None],
    findings: list[Finding],
) -> None:
    """Labels from the outside inwards, so that each line knows what lies around it.

    `around` receives the id of the nearest outline or window that holds the line.
    """
    size = {line.id: float(enclosing.areas[line.id].area) for line in closed}
    lines = {line.id: line for line in closed}
    for line_id in sorted(size, key=lambda each: -size[each]):
        line = lines[line_id]
        holders = sorted(enclosing.inside[line_id], key=lambda each: size[each])
        if any(labels[each] in DRILL_LABELS or labels[each] is Label.IGNORE for each in holders):
            labels[line_id] = Label.IGNORE  # the cross or ring drawn in a drill mark
            continue
        holder = holders[0] if holders else None
        around[line_id] = holder
        held = None if holder is None else labels[holder]
        rule = _by_rule(line, holder, held, lines, enclosing)
        wanted = asked.get(line_id, rule)
        if wanted is not rule and wanted not in _possible(line, held):
            if line_id not in hinted:
                _refuse(line, _why_not(wanted, held), findings)
            wanted = rule
        labels[line_id] = wanted


def _by_rule(
    line: Line,
    holder: str | None,
    held: Label | None,
    lines: Mapping[str, Line],
    enclosing: Enclosing,
) -> Label:
    circle = drilled(line, DRILL_MAX_MM)
    if held is None or holder is None:
        return Label.OUTLINE
    if held is Label.WINDOW:
        return Label.PILOT if circle is not None else Label.OUTLINE
    if circle is None:
        return Label.WINDOW
    edge = LinearRing(lines[holder].points).distance(Point(circle.x_mm, circle.y_mm))
    return Label.RING if edge <= RING_WEB_MM + circle.diameter_mm else Label.RIVET


def _possible(line: Line, held: Label | None) -> set[Label]:
    """Labels other than the rule's own that make sense where the line lies."""
    if held is None:
        return {Label.OUTLINE}
    if held is Label.WINDOW:
        return {Label.OUTLINE, Label.PILOT}
    return {Label.WINDOW, Label.RING, Label.RIVET}


def _why_not(wanted: Label, held: Label | None) -> str:
    if held is None:
        return f"It lies in no piece, so it cannot be the {LABEL_WORDS[wanted]}."
    if held is Label.WINDOW:
        return f"It lies in a window, so it cannot be the {LABEL_WORDS[wanted]}."
    return f"It lies on the metal of a piece, so it cannot be the {LABEL_WORDS[wanted]}."


def _tell_crossings(
    closed: list[Line],
    enclosing: Enclosing,
    labels: Mapping[str, Label],
    findings: list[Finding],
) -> None:
    for line in closed:
        if labels[line.id] is Label.IGNORE:
            continue
        for point in enclosing.tangled.get(line.id, ()):
            findings.append(
                Finding(
                    "line-crosses-itself",
                    Weight.STOP,
                    "This line crosses or touches itself here, so its inside is not clear.",
                    "Move the line so that it goes round once without crossing or touching itself.",
                    at=point,
                )
            )
    for one, other, point in enclosing.crossing:
        if Label.IGNORE in (labels[one], labels[other]):
            continue
        findings.append(
            Finding(
                "lines-cross",
                Weight.STOP,
                f"The {_short(labels[one])} and the {_short(labels[other])} cross each other here.",
                "Move them apart, or join them into one line.",
                at=point,
            )
        )


def _short(label: Label) -> str:
    return LABEL_WORDS[label].split(" (")[0]


def _pieces(
    tracing: Tracing,
    closed: list[Line],
    enclosing: Enclosing,
    labels: Mapping[str, Label],
    around: Mapping[str, str | None],
    findings: list[Finding],
) -> tuple[list[Piece], dict[str, str]]:
    """One piece for each sound outline, numbered in the order of the file."""
    members: dict[str, list[Line]] = {}
    for line in closed:
        label, holder = labels[line.id], around.get(line.id)
        if label is Label.PILOT and holder is not None:
            holder = around.get(holder)  # a pilot belongs to the piece around its window
        if label is not Label.OUTLINE and holder is not None:
            members.setdefault(holder, []).append(line)
    crossed = {
        each
        for one, other, _ in enclosing.crossing
        for each in (one, other)
        if Label.IGNORE not in (labels[one], labels[other])
    }
    unsound = set(enclosing.tangled) | crossed
    pieces: list[Piece] = []
    pieces_of: dict[str, str] = {}
    for line in closed:
        if labels[line.id] is not Label.OUTLINE or line.id in enclosing.tangled:
            continue
        piece_id = str(len(pieces) + 1)
        own = members.get(line.id, [])
        windows = [
            each for each in own if labels[each.id] is Label.WINDOW and each.id not in unsound
        ]
        marks = tuple(
            _mark(each, labels[each.id]) for each in own if labels[each.id] in DRILL_LABELS
        )
        pieces.append(build_piece(piece_id, line, windows, marks, findings))
        for each in (line, *own):
            pieces_of[each.id] = piece_id
    return pieces, pieces_of


def _mark(line: Line, label: Label) -> DrillMark:
    circle = drilled(line, DRILL_MAX_ASKED_MM)
    assert circle is not None
    return DrillMark(circle.x_mm, circle.y_mm, circle.diameter_mm, DrillKind(label.value))
