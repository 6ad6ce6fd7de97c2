"""Shapes inked on paper and scanned, for good-pattern help from end to end."""

from __future__ import annotations

import functools

import numpy as np

from studio.core.reading.proving.rendering import file_of, scanned
from studio.core.reading.proving.truth import TrueDrawing, TrueMark, TruePiece, TrueWindow

from .hand import Points, ellipse, polygon, shaken

TAG = [(10.0, 10.0), (55.0, 10.0), (55.0, 40.0), (10.0, 40.0)]


def scan_of(outline: Points, *windows: Points, seed: int = 3) -> bytes:
    """A PNG of 300 dots per inch, 80 by 60 mm of paper, with a drill mark in every piece."""
    inked = TruePiece(
        outline,
        [TrueWindow(window, "grey") for window in windows],
        [TrueMark(46.0, 34.0, 1.6, False)],
        [(np.array([[38.0, 16.0], [50.0, 24.0]]), False)],
    )
    drawing = TrueDrawing(80.0, 60.0, 0.5, (inked,))
    return file_of(scanned(drawing, seed=seed), "PNG", dpi=(300, 300))


@functools.cache
def hand_drawn() -> bytes:
    """A tag without a ruler and in it a round window without a stencil."""
    outline = shaken(polygon(TAG), 0.3, 1, corners=np.array(TAG))
    return scan_of(outline, shaken(ellipse(25, 25, 7, 7), 0.3, 4))


@functools.cache
def ruler_drawn() -> bytes:
    """The same with ruler and stencil."""
    return scan_of(polygon(TAG), ellipse(25, 25, 7, 7))
