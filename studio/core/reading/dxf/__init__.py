"""Reads a DXF file into rough lines in millimetres, y upwards.

    groups    bytes to entities, sorted by section, with bounds
    units     what one unit of the drawing is
    shapes    one entity to an exact curve
    walking   layers, blocks in blocks, and what cannot be read

Blocks are placed by maps of exact curves, so an arc in a block that is stretched unevenly is
an exact arc of an ellipse; only the last step makes short straight lines, in millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Weight

from ..bounds import MAX_SIZE_MM, Budget
from ..curves import Curve, Matrix, shift, stretch
from ..errors import PatternError, UnitUnknown
from ..flattening import flatten
from ..labels import hint_of_layer
from ..rough import ASK, Asked, Rough, RoughLine
from ..sizing import exact_round, refuse_absurd, scale_to_width, size_of
from ..tracing import Source
from .groups import contents_of, looks_like_dxf
from .units import unit_named, unit_of
from .walking import Found, Walk

_FAR_MM = 10_000.0


def read_dxf(data: bytes, asked: Asked) -> Rough:
    """Raises `PatternError` when nothing can be read; faults in entities become findings."""
    contents = contents_of(data)
    budget = Budget()
    walk = Walk(contents, budget)
    walk.all()
    found, findings = walk.found, walk.findings
    if not found and not any(finding.weight is Weight.STOP for finding in findings):
        raise _nothing_drawn(findings)
    unit = unit_of(contents.unit)
    scale_from = "file"
    if unit is None and asked.width_mm is None and found:
        if asked.unit == ASK:
            raise UnitUnknown(*_size_in_units(found))
        if asked.unit is not None:
            unit, scale_from = unit_named(asked.unit), "unit"
    scale = 1.0 if unit is None else unit[1]
    if asked.width_mm is not None and found:
        scale = scale_to_width([each.curve for each in found], asked.width_mm)
        scale_from = "option"
    sized = stretch(scale, scale)
    home = _home([each.curve.mapped(sized) for each in found])
    lines = [_line(each, home @ sized, budget) for each in found]
    refuse_absurd(lines)
    width, height = size_of(lines) if lines else (0.0, 0.0)
    if unit is None and scale_from == "file" and lines:
        findings.append(_assumed(width, height))
    source = Source("dxf", unit[0] if unit else "none", scale_from, width, height)
    return Rough(source, lines, findings)


def _size_in_units(found: Sequence[Found]) -> tuple[float, float]:
    """Width and height by control points: near enough to choose a unit by."""
    points = [point for each in found for point in each.curve.control_points]
    xs, ys = zip(*points, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def _home(curves: Sequence[Curve]) -> Matrix:
    """Brings a drawing made far from its origin near to it; leaves all others where they are."""
    points = [point for curve in curves for point in curve.control_points]
    if not points:
        return Matrix()
    x0, y0 = min(x for x, _ in points), min(y for _, y in points)
    x1, y1 = max(x for x, _ in points), max(y for _, y in points)
    if max(abs(x0), abs(y0), abs(x1), abs(y1)) <= _FAR_MM:
        return Matrix()
    return shift(-x0, -y0) if max(x1 - x0, y1 - y0) <= 2 * MAX_SIZE_MM else Matrix()


def _line(each: Found, into_mm: Matrix, budget: Budget) -> RoughLine:
    curve = each.curve.mapped(into_mm)
    return RoughLine(
        flatten(curve, budget),
        curve.closed,
        exact_round(curve),
        each.element,
        each.block[:40],
        hint_of_layer(each.layer),
        each.layer[:60],
    )


def _nothing_drawn(findings: list[Finding]) -> PatternError:
    said = "".join(f" {finding.message}" for finding in findings[:3])
    return PatternError(
        "nothing-drawn",
        f"There is no line in this drawing that could be sawn.{said}",
        findings[0].mend if findings else "Draw the outlines as lines and save the file again.",
    )


def _assumed(width: float, height: float) -> Finding:
    return Finding(
        "scale-assumed",
        Weight.CAUTION,
        f"The file does not say in which unit it was drawn. Read as millimetres, the drawing is "
        f"{told_mm(width, places=1)} mm wide and {told_mm(height, places=1)} mm high.",
        "If that is not the size you want, give the drawing's width when you upload it, or set "
        "the unit in your drawing program.",
        value_mm=width,
    )


__all__ = ["looks_like_dxf", "read_dxf"]
