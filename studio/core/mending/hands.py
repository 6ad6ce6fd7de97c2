"""Did a hand draw this, and was it meant so?

A drawing program's curves are exact, so they show no tremor and get no advice. What was drawn
on paper was drawn by a hand; there only evenness tells what is meant: an even wave is an
ornament, an even bow an arc.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from studio.core.reading.tracing import Source

from . import thresholds

Offsets = NDArray[np.float64]

_PAPER = ("scan", "photo")


def on_paper(source: Source) -> bool:
    """Whether the tracing was read out of a picture of inked paper."""
    return source.kind in _PAPER


def swings(off: Offsets, least: float = thresholds.SWING_MM) -> int:
    """How often the line swings to one side or the other by more than `least` millimetres."""
    sides = np.sign(off)[np.abs(off) > least]
    return 0 if not len(sides) else 1 + int(np.count_nonzero(np.diff(sides)))


def trembles(off: Offsets, length_mm: float, least: float = thresholds.SWING_MM) -> bool:
    """Whether the offsets from an ideal line are those of a hand and of nothing even."""
    enough = max(thresholds.LEAST_SWINGS, length_mm / thresholds.SWING_EVERY_MM)
    return swings(off, least) >= enough and not is_even_wave(off)


def is_even_wave(off: Offsets) -> bool:
    """Whether nearly all swing is one wave that repeats: scallops, teeth, a wavy edge."""
    if len(off) < 16:
        return False
    spectrum = np.abs(np.fft.rfft((off - off.mean()) * np.hanning(len(off))))
    power = spectrum**2
    total = float(power[1:].sum())
    if total <= 0.0:
        return False
    peak = 1 + int(power[1:].argmax())
    share = float(power[max(1, peak - 1) : peak + 2].sum()) / total
    height = float(np.sqrt(2.0) * off.std())
    return (
        peak >= thresholds.EVEN_WAVES
        and share >= thresholds.EVEN_WAVE_SHARE
        and height >= thresholds.EVEN_WAVE_MM
    )


def is_bow(off: Offsets, length_mm: float) -> bool:
    """Whether the offsets from a straight line are one even bow that rises noticeably."""
    t = np.linspace(-1.0, 1.0, len(off))
    shape = t**2 - np.mean(t**2)
    rise = float(off @ shape) / float(shape @ shape)
    left = off - off.mean() - rise * shape
    whole = float(((off - off.mean()) ** 2).sum())
    explains = 1.0 - float((left**2).sum()) / whole if whole > 0.0 else 0.0
    if explains >= thresholds.ARC_EXPLAINS:
        return abs(rise) >= max(thresholds.ARC_LEAST_MM, thresholds.ARC_SHARE * length_mm)
    return explains >= thresholds.BOW_EXPLAINS and abs(rise) >= max(
        thresholds.BOW_LEAST_MM, thresholds.BOW_SHARE * length_mm
    )
