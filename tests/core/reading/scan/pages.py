"""Paper for the tests: pages drawn in dots, and what is read from them."""

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading import Assembly, Tracing, assemble
from studio.core.reading.joining.tidying import tidy
from studio.core.reading.proving.rendering import INK, Pen, file_of
from studio.core.reading.rough import Asked
from studio.core.reading.scan.child import read

PX = 300 / 25.4
Page = NDArray[np.uint8]


def paper(width_mm: float = 50.0, height_mm: float = 40.0, fine: int = 3) -> Page:
    """White paper, `fine` times finer than a 300 dpi scan."""
    return np.full((round(height_mm * PX * fine), round(width_mm * PX * fine)), 245, np.uint8)


def ink(
    page: Page,
    points: list[tuple[float, float]],
    *,
    closed: bool = True,
    pen_mm: float = 0.5,
    grey: int = INK,
    fill: int | None = None,
    fine: int = 3,
) -> None:
    """A line through millimetres (y down) with a round pen, filled first when asked."""
    pen = Pen(page, PX * fine, page.shape[0] / (PX * fine))
    upward = np.array(points) * [1.0, -1.0] + [0.0, pen.height_mm]
    if fill is not None:
        pen.area(upward, fill)
    if pen_mm:
        pen.line(upward, closed, pen_mm, grey)


def ring(x: float, y: float, radius: float, count: int = 180) -> list[tuple[float, float]]:
    turn = [math.tau * k / count for k in range(count)]
    return [(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turn]


def scan(page: Page, fine: int = 3, noise: float = 2.0) -> Page:
    """What a 300 dpi scanner makes of the page."""
    small = cv2.resize(page, None, fx=1 / fine, fy=1 / fine, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 0.5).astype(np.float64)
    grain = np.random.default_rng(5).normal(0, noise, small.shape)
    found: Page = np.clip(small + grain, 0, 255).astype(np.uint8)
    return found


def tracing_of(grey: Page, **options: Any) -> Tracing:
    """Read in this very process, which is quicker than in one of its own."""
    asked = Asked(**({"dpi": 300.0} | options))
    return tidy(read(file_of(grey), "png", asked))


def assembly_of(grey: Page, **options: Any) -> Assembly:
    return assemble(tracing_of(grey, **options))
