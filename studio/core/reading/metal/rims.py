"""The edge of metal to a fraction of a dot: the steepest step across the outline.

Beside the metal there may be a shadow with an edge of its own. So of two steps the inner one is
taken where darker paper lies between them; a light scratch along the edge has metal on both
sides and is passed over. Where no step is steep enough (mirrored light runs over the edge) the
place is not sure.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading.scan.ink.middling import evened, normals
from studio.core.reading.scan.ink.shaping import resampled

from .silhouette import Plane, Points

_STEP = 0.25
_FAR_MM, _NEAR_MM = 1.3, 0.6
_ALONG_MM = 0.25
_SHADOW_MM = 0.3
_DARK_PAPER = 0.85
_STEEP = 0.45  # of the usual steepness: less is no edge


@dataclass(frozen=True, slots=True)
class Rim:
    """A closed line (n, 2) in dots; all others have its length. `away` are unit vectors from
    the metal outwards, `steep` the step's steepness (levels for a dot), `shaded` says where a
    shadow was left out."""

    points: Points
    away: Points
    sure: NDArray[np.bool_]
    steep: NDArray[np.float64]
    shaded: NDArray[np.bool_]


def rim_of(
    level: Plane,
    ring: Points,
    px_per_mm: float,
    *,
    opening: bool,
    ground: NDArray[np.int16],
    own: int,
) -> Rim:
    """`ring` is coarse; `opening` when the metal lies outside of it. `ground` is the
    silhouette's, `own` the number in it of the paper that this ring parts from the metal."""
    base = resampled(ring, True, 1.0)
    base = evened(base, True, 0.2 * px_per_mm)
    over = ground, own
    first = _measured(level, base, px_per_mm, _FAR_MM, opening, over, shadows=True)
    again = evened(_bridged(first), True, 0.1 * px_per_mm)
    last = _measured(level, again, px_per_mm, _NEAR_MM, opening, over, shadows=False)
    return Rim(last.points, last.away, last.sure & first.sure, last.steep, first.shaded)


def sure_by(rim: Rim, usual: float) -> NDArray[np.bool_]:
    """Where the edge is there, `usual` being how steep edges are in this photo."""
    found: NDArray[np.bool_] = rim.sure & (rim.steep > _STEEP * usual)
    return found


def _measured(
    level: Plane,
    base: Points,
    px_per_mm: float,
    reach_mm: float,
    opening: bool,
    over: tuple[NDArray[np.int16], int],
    *,
    shadows: bool,
) -> Rim:
    away = normals(base, True)
    x, y = base.T
    turning = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    # `normals` points outwards from a ring that runs clockwise as seen (y runs down).
    if (turning > 0) == opening:
        away = -away
    reach = reach_mm * px_per_mm
    offsets = np.arange(-reach, reach + _STEP / 2, _STEP)
    at = base[:, None, :] + offsets[None, :, None] * away[:, None, :]
    seen = _sampled(level, at)
    seen = _along(seen, _ALONG_MM * px_per_mm)
    slope = np.abs(np.gradient(seen, _STEP, axis=1))
    edge = max(2, round(0.1 * px_per_mm / _STEP))
    slope[:, :edge] = slope[:, -edge:] = 0.0
    slope[_across_a_bridge(at, *over)] = 0.0
    rows = np.arange(len(base))
    chosen = slope.argmax(axis=1)
    shaded = np.zeros(len(base), dtype=np.bool_)
    if shadows:
        chosen, shaded = _inside_of_shadows(seen, slope, chosen, px_per_mm)
    place = offsets[chosen] + _STEP * _vertex(slope, chosen)
    usual = _median_along(place, 1.5 * px_per_mm)
    sure = np.abs(place - usual) < 0.3 * px_per_mm
    place = np.where(sure, place, usual)
    return Rim(base + place[:, None] * away, away, sure, slope[rows, chosen], shaded)


def _across_a_bridge(at: Points, ground: NDArray[np.int16], own: int) -> NDArray[np.bool_]:
    """Samples (rows run towards the own paper) that belong to an edge on the metal's far side.

    Where the metal between a window and the outside is narrow, the edge beyond it may be the
    steeper one: what lies past the middle of the bridge is not looked at.
    """
    height, width = ground.shape
    x = np.clip(np.rint(at[..., 0]), 0, width - 1).astype(np.int64)
    y = np.clip(np.rint(at[..., 1]), 0, height - 1).astype(np.int64)
    # Column 0 lies nearest to the own paper from here on.
    here = ground[y, x][:, ::-1]
    places = np.arange(here.shape[1])
    strange = (here != 0) & (here != own)
    beyond = np.where(strange.any(axis=1), strange.argmax(axis=1), 10 * here.shape[1])
    papered = (here == own) & (places[None, :] < beyond[:, None])
    begins = np.where(papered, places[None, :], -1).max(axis=1) + 1
    found: NDArray[np.bool_] = places[None, :] > ((begins + beyond) / 2)[:, None]
    return found[:, ::-1]


def _inside_of_shadows(
    seen: Plane, slope: Plane, strongest: NDArray[np.int64], px_per_mm: float
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """The step nearer to the metal where a shadow lies between it and the strongest one."""
    chosen = strongest.copy()
    count = seen.shape[1]
    apart = round(_SHADOW_MM * px_per_mm / _STEP)
    peak = np.zeros(slope.shape, dtype=np.bool_)
    peak[:, 1:-1] = (slope[:, 1:-1] >= slope[:, :-2]) & (slope[:, 1:-1] > slope[:, 2:])
    rows = np.arange(len(seen))
    peak &= slope >= 0.5 * slope[rows, strongest][:, None]
    peak &= np.arange(count)[None, :] <= (strongest - apart)[:, None]
    shaded = np.zeros(len(seen), dtype=np.bool_)
    for row in np.flatnonzero(peak.any(axis=1)).tolist():
        place = int(np.flatnonzero(peak[row])[-1])
        third = max(1, (strongest[row] - place) // 4)
        between = float(seen[row, place + third : strongest[row] - third + 1].mean())
        inside = seen[row, max(0, place - 4 * third) : max(1, place - third)]
        if between < 0.9 and inside.size and abs(float(inside.mean()) - between) > 0.12:
            chosen[row], shaded[row] = place, True
    # Where the strongest step is the metal's own, its shadow is the dark paper just outside.
    beyond = chosen[:, None] + np.arange(apart, 2 * apart + 1)[None, :]
    outside = np.take_along_axis(seen, np.minimum(beyond, count - 1), axis=1).mean(axis=1)
    shaded |= outside < _DARK_PAPER
    # A shadow lies along a whole side; what comes and goes is texture.
    broad = _median_along(shaded.astype(np.float64), 2.0 * px_per_mm) > 0.5
    chosen = np.where(broad, chosen, strongest)
    return chosen, shaded & broad


def _vertex(slope: Plane, chosen: NDArray[np.int64]) -> NDArray[np.float64]:
    """Where between three samples the slope is steepest, in steps from the middle one."""
    rows = np.arange(len(slope))
    middle = np.clip(chosen, 1, slope.shape[1] - 2)
    low, top, high = (slope[rows, middle + k].astype(np.float64) for k in (-1, 0, 1))
    bend = low - 2 * top + high
    off = np.where(bend < -1e-12, 0.5 * (low - high) / np.where(bend < -1e-12, bend, 1.0), 0.0)
    found: NDArray[np.float64] = np.clip(off, -0.5, 0.5)
    return found


def _sampled(level: Plane, at: Points) -> Plane:
    found = [
        cv2.remap(
            level,
            at[first : first + 8_000, :, 0].astype(np.float32),
            at[first : first + 8_000, :, 1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for first in range(0, len(at), 8_000)
    ]
    return np.concatenate(found)


def _along(seen: Plane, spread: float) -> Plane:
    """Blurred along the ring, so that grain and scratches across the edge cancel out."""
    reach = min(len(seen) - 1, int(3 * spread))
    if reach < 1:
        return seen
    padded = np.vstack((seen[-reach:], seen, seen[:reach]))
    blurred = cv2.GaussianBlur(padded, (1, 2 * reach + 1), sigmaX=0.1, sigmaY=spread)
    blurred = cv2.GaussianBlur(blurred, (5, 1), sigmaX=1.2, sigmaY=0.1)
    found: Plane = blurred[reach : reach + len(seen)]
    return found


def _median_along(values: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    count = len(values)
    half = int(min(reach, (count - 1) // 2))
    if half < 1:
        return values
    wrapped = np.concatenate((values[-half:], values, values[:half]))
    windows = np.lib.stride_tricks.sliding_window_view(wrapped, 2 * half + 1)
    found: NDArray[np.float64] = np.median(windows[:, :: max(1, half // 12)], axis=1)
    return found


def _bridged(rim: Rim) -> Points:
    known = np.flatnonzero(rim.sure)
    count = len(rim.points)
    if len(known) < 8 or len(known) == count:
        return rim.points
    wrapped = np.concatenate((known - count, known, known + count))
    index = np.arange(count)
    return np.stack(
        [np.interp(index, wrapped, np.tile(rim.points[known, axis], 3)) for axis in (0, 1)], axis=1
    )
