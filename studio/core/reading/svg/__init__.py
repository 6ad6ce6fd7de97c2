"""Reads an SVG file into rough lines in millimetres, y upwards.

Strict where SVG viewers are lenient: what cannot be read exactly becomes a finding that
names the element, never a guess. The file itself is never shown to anybody again.
"""

from __future__ import annotations

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Weight

from ..bounds import MAX_ELEMENTS, Budget
from ..curves import Matrix
from ..errors import PatternError
from ..flattening import flatten
from ..labels import hint_of_name
from ..rough import Asked, Rough, RoughLine
from ..sizing import exact_round, refuse_absurd, scale_to_width, size_of
from ..tracing import Source
from .lengths import MM_PER_INCH, MM_PER_PX, PX_PER_INCH
from .parsing import parse
from .styles import Styles
from .viewports import Page, page_of
from .walking import Found, Walk


def read_svg(data: bytes, asked: Asked) -> Rough:
    """Raises `PatternError` when nothing can be read; faults in elements become findings."""
    budget = Budget()
    tree = parse(data, budget)
    elements = MAX_ELEMENTS - budget.elements
    budget.elements = MAX_ELEMENTS
    styles = Styles(tree.root, elements)
    walk = Walk(tree, styles, budget)
    page = page_of(dict(tree.root.attrib))
    walk.from_root(page.matrix, page.inner)
    findings = walk.findings
    if styles.skipped:
        findings.append(
            Finding(
                "style-unread",
                Weight.CAUTION,
                "Some style rules of this file are not read; a hidden line may appear.",
                "Save the file as plain SVG, with styles written on the shapes.",
            )
        )
    found = _drawn(walk.found, page, findings)
    if not found and not any(finding.weight is Weight.STOP for finding in findings):
        raise _nothing_drawn(findings)
    scale, scale_from = _scale(found, page, asked)
    source = Source("svg", page.units, scale_from, page.width_px * scale, page.height_px * scale)
    flip = Matrix(a=scale, d=-scale, f=page.height_px * scale)
    lines = [_line(each, flip, budget) for each in found]
    refuse_absurd(lines)
    if scale_from == "file" and page.assumed and lines:
        findings.append(_assumed(lines))
    return Rough(source, lines, findings)


def _drawn(found: list[Found], page: Page, findings: list[Finding]) -> list[Found]:
    """Leaves out lines that nobody can see and the white sheet behind the drawing."""
    kept = [each for each in found if not (each.white and _fills_page(each, page))]
    if len(kept) < len(found) and kept:
        findings.append(
            Finding(
                "background",
                Weight.CAUTION,
                "The white rectangle as large as the page is taken as paper and left out.",
                "Nothing to do, unless it should be sawn: then give it an outline.",
            )
        )
    else:
        kept = found
    seen = [each for each in kept if each.seen]
    if len(seen) == len(kept):
        return kept
    if not seen:
        message = "The lines of this drawing have neither colour nor stroke; they are read anyway."
        seen = kept
    else:
        message = "Lines with neither colour nor stroke cannot be seen and are left out."
    mend = "Give each line that should be sawn a stroke."
    findings.append(Finding("line-unseen", Weight.CAUTION, message, mend))
    return seen


def _fills_page(each: Found, page: Page) -> bool:
    if each.element != "rect" or len(each.curve.spans) != 3:
        return False
    curve = each.curve.mapped(each.matrix)
    points = [curve.start, *(span.end for span in curve.spans)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    slack_x, slack_y = page.width_px / 500, page.height_px / 500
    return (
        min(xs) <= slack_x
        and min(ys) <= slack_y
        and max(xs) >= page.width_px - slack_x
        and max(ys) >= page.height_px - slack_y
    )


def _scale(found: list[Found], page: Page, asked: Asked) -> tuple[float, str]:
    """Millimetres per page px, and how we know."""
    if asked.width_mm is not None and found:
        scale = scale_to_width([each.curve.mapped(each.matrix) for each in found], asked.width_mm)
        return scale, "option"
    if asked.dpi is not None and page.assumed:
        return MM_PER_INCH / asked.dpi, "resolution"
    return MM_PER_PX, "file"


def _line(each: Found, flip: Matrix, budget: Budget) -> RoughLine:
    curve = each.curve.mapped(flip @ each.matrix)
    return RoughLine(
        flatten(curve, budget),
        curve.closed,
        exact_round(curve),
        each.element,
        each.name,
        hint_of_name(each.name),
    )


def _nothing_drawn(findings: list[Finding]) -> PatternError:
    said = "".join(f" {finding.message}" for finding in findings[:3])
    return PatternError(
        "nothing-drawn",
        f"There is no line in this drawing that could be sawn.{said}",
        findings[0].mend if findings else "Draw the outlines as paths or shapes and save again.",
    )


def _assumed(lines: list[RoughLine]) -> Finding:
    width, height = size_of(lines)
    return Finding(
        "scale-assumed",
        Weight.CAUTION,
        f"The file does not say how large it is. Read at {PX_PER_INCH:g} dots per inch, the "
        f"drawing is {told_mm(width, places=1)} mm wide and {told_mm(height, places=1)} mm high.",
        "If that is not the size you want, set the page size in mm, or give the width.",
        value_mm=width,
    )


__all__ = ["read_svg"]
