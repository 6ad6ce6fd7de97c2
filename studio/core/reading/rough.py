"""What every reader returns before tidying: lines without ids, as found in the file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.core.drawing import Finding

from .tracing import Round, Source


@dataclass(frozen=True, slots=True)
class RoughLine:
    """One line in millimetres, y upwards; `points` has the shape (n, 2)."""

    points: NDArray[np.float64]
    closed: bool
    round: Round | None = None
    element: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Rough:
    """All that one reader found in one file."""

    source: Source
    lines: list[RoughLine]
    findings: list[Finding]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the person who uploads a file says about it."""

    filename: str = ""
    width_mm: float | None = None
    dpi: float | None = None
    frame: str | None = None
