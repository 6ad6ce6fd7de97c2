"""Reads an SVG file into rough lines in millimetres, y upwards.

Strict where SVG viewers are lenient: what cannot be read exactly becomes a finding that
names the element, never a guess. The file itself is never shown to anybody again.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding, Weight

from ..bounds import MAX_ELEMENTS, MAX_SIZE_MM, MAX_VERTICES, MIN_SIZE_MM, Budget
from ..curves import Curve, Matrix
from ..errors import PatternError
from ..flattening import CURVE_TOLERANCE_MM, flatten
from ..rough import Asked, Rough, RoughLine
from ..tracing import Round, Source
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
    _refuse_absurd(lines)
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
        # First by control points, which need no tolerance; then twice by the curves themselves,
        # finer than the answer needs, since the tolerance depends on the scale sought.
        scale = asked.width_mm / _width(found, Matrix(), None)
        for _ in range(2):
            budget = Budget(vertices=4 * MAX_VERTICES)
            scale *= asked.width_mm / _width(found, Matrix(a=scale, d=scale), budget)
        return scale, "option"
    if asked.dpi is not None and page.assumed:
        return MM_PER_INCH / asked.dpi, "resolution"
    return MM_PER_PX, "file"


def _width(found: list[Found], maps: Matrix, budget: Budget | None) -> float:
    """Width of all curves under the map; by their control points when there is no budget."""
    xs: list[float] = []
    for each in found:
        curve = each.curve.mapped(maps @ each.matrix)
        if budget is None:
            xs += [x for x, _ in curve.control_points]
        else:
            points = flatten(curve, budget, CURVE_TOLERANCE_MM / 4)
            xs += [float(points[:, 0].min()), float(points[:, 0].max())]
    width = max(xs) - min(xs)
    if not 1e-9 < width < math.inf:
        raise _no_size()
    return width


def _line(each: Found, flip: Matrix, budget: Budget) -> RoughLine:
    curve = each.curve.mapped(flip @ each.matrix)
    return RoughLine(flatten(curve, budget), curve.closed, _round(curve), each.element, each.name)


def _round(curve: Curve) -> Round | None:
    """The exact circle when a circle element is still one after all transforms."""
    arc = curve.whole_ellipse
    if arc is None:
        return None
    greater, lesser = arc.half_axes
    if greater - lesser > 1e-4 * greater:
        return None
    return Round(round(arc.centre[0], 6), round(arc.centre[1], 6), round(2 * greater, 6))


def _refuse_absurd(lines: list[RoughLine]) -> None:
    if not lines:
        return
    points: NDArray[np.float64] = np.concatenate([line.points for line in lines])
    width, height = (float(side) for side in np.ptp(points, axis=0))
    longest = max(width, height)
    if not math.isfinite(longest) or longest > MAX_SIZE_MM:
        raise PatternError(
            "drawing-huge",
            f"This drawing is {width / 1000:,.1f} m by {height / 1000:,.1f} m.",
            f"Nothing over {MAX_SIZE_MM / 1000:g} m is sawn here: check the units of the page, "
            "or give the drawing's width when you upload it.",
        )
    if longest < MIN_SIZE_MM:
        raise _no_size()


def _no_size() -> PatternError:
    return PatternError(
        "size-zero",
        "This drawing has no size: all its points lie on one spot.",
        "Check the units of the page, or give the drawing's width when you upload it.",
    )


def _nothing_drawn(findings: list[Finding]) -> PatternError:
    said = "".join(f" {finding.message}" for finding in findings[:3])
    return PatternError(
        "nothing-drawn",
        f"There is no line in this drawing that could be sawn.{said}",
        findings[0].mend if findings else "Draw the outlines as paths or shapes and save again.",
    )


def _assumed(lines: list[RoughLine]) -> Finding:
    points: NDArray[np.float64] = np.concatenate([line.points for line in lines])
    width, height = (float(side) for side in np.ptp(points, axis=0))
    return Finding(
        "scale-assumed",
        Weight.CAUTION,
        f"The file does not say how large it is. Read at {PX_PER_INCH:g} dots per inch, the "
        f"drawing is {width:.1f} mm wide and {height:.1f} mm high.",
        "If that is not the size you want, set the page size in mm, or give the width.",
        value_mm=width,
    )


__all__ = ["read_svg"]
