"""How large a drawing is and whether it may be that large; for readers that know true curves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .bounds import MAX_SIZE_MM, MAX_VERTICES, MIN_SIZE_MM, Budget
from .curves import Curve, Matrix
from .errors import PatternError
from .flattening import CURVE_TOLERANCE_MM, flatten
from .rough import RoughLine
from .tracing import Round

ONE_ROUND_SHARE = 1e-4  # half axes that differ less than this are one radius


def scale_to_width(curves: Sequence[Curve], width_mm: float) -> float:
    """Millimetres per unit of the curves that make all of them together `width_mm` wide.

    Raises PatternError when they have no width.
    """
    # First by control points, which need no tolerance; then twice by the curves themselves,
    # finer than the answer needs, since the tolerance depends on the scale sought.
    xs = [x for curve in curves for x, _ in curve.control_points]
    scale = width_mm / _width(min(xs), max(xs))
    for _ in range(2):
        budget = Budget(vertices=2 * MAX_VERTICES)
        low, high = math.inf, -math.inf
        for curve in curves:
            larger = curve.mapped(Matrix(a=scale, d=scale))
            points = flatten(larger, budget, CURVE_TOLERANCE_MM / 4)
            low, high = min(low, float(points[:, 0].min())), max(high, float(points[:, 0].max()))
        scale *= width_mm / _width(low, high)
    return scale


def _width(low: float, high: float) -> float:
    if not 1e-9 < high - low < math.inf:
        raise no_size()
    return high - low


def exact_round(curve: Curve) -> Round | None:
    """The circle when a whole circle is still one after all transforms."""
    arc = curve.whole_ellipse
    if arc is None:
        return None
    greater, lesser = arc.half_axes
    if greater - lesser > ONE_ROUND_SHARE * greater:
        return None
    return Round(round(arc.centre[0], 6), round(arc.centre[1], 6), round(2 * greater, 6))


def size_of(lines: Sequence[RoughLine]) -> tuple[float, float]:
    """Width and height of all lines together, mm."""
    points: NDArray[np.float64] = np.concatenate([line.points for line in lines])
    width, height = (float(side) for side in np.ptp(points, axis=0))
    return width, height


def refuse_absurd(lines: Sequence[RoughLine]) -> None:
    """Raises PatternError for a drawing larger than any sheet or smaller than any saw blade."""
    if not lines:
        return
    width, height = size_of(lines)
    longest = max(width, height)
    if not math.isfinite(longest) or longest > MAX_SIZE_MM:
        raise PatternError(
            "drawing-huge",
            f"This drawing is {width / 1000:,.1f} m by {height / 1000:,.1f} m.",
            f"Nothing over {MAX_SIZE_MM / 1000:g} m is sawn here: check the units of the page, "
            "or give the drawing's width when you upload it.",
        )
    if longest < MIN_SIZE_MM:
        raise no_size()


def no_size() -> PatternError:
    return PatternError(
        "size-zero",
        "This drawing has no size: all its points lie on one spot.",
        "Check the units of the page, or give the drawing's width when you upload it.",
    )
