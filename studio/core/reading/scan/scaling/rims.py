"""The rim of a coin near a circle that somebody marked, and pictures without coin or card."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from studio.core.reading.scan.ink.small_rounds import circle_through

Grey = NDArray[np.uint8]
Points = NDArray[np.float64]

SLANT_MOST_DEG = 10.0  # beyond, a drawing of 60 mm comes out a millimetre too short
_RAYS = 240
_REACH = 0.12  # of the marked radius: fingers mark no better
_GOOD_SHARE = 0.55  # of all rays must meet an edge at all
_NEARLY_ALL = 0.85
_HALF = 0.45
_ON = 0.008  # of the radius: how far an edge on the rim may lie from it
_ROUND = 0.985  # shorter by longer axis above which a rim counts as seen from straight above
_TRIES = 500
_COARSE = 24


@dataclass(frozen=True, slots=True)
class Rim:
    """Centre and radius in dots; `radius` is the longer half axis where the coin looks oval."""

    x: float
    y: float
    radius: float
    slant_deg: float = 0.0


def rim_near(grey: Grey, marked: tuple[float, float, float]) -> Rim:
    """The outermost clear edge near the marked circle (x, y, radius), or that circle itself."""
    x, y, radius = marked
    plain = Rim(x, y, radius)
    step = max(0.5, radius / 400)
    reach = np.arange(-_REACH * radius, _REACH * radius + step, step)
    turn = np.arange(_RAYS) * math.tau / _RAYS
    way = np.stack((np.cos(turn), np.sin(turn)), axis=1)
    at = np.array([x, y]) + way[:, None, :] * (radius + reach)[None, :, None]
    values = cv2.remap(
        cv2.GaussianBlur(grey, (0, 0), 1.0),
        at.astype(np.float32),
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float64)
    steep = np.abs(np.gradient(cv2.GaussianBlur(values, (0, 0), sigmaX=1.5, sigmaY=0.01), axis=1))
    peak = steep.max(axis=1)
    strong = float(np.percentile(peak, 80))
    clear = (steep >= 0.5 * peak[:, None]) & (peak > max(1.0, 0.25 * strong))[:, None]
    rising = np.zeros_like(clear)
    rising[:, 1:-1] = (steep[:, 1:-1] >= steep[:, :-2]) & (steep[:, 1:-1] > steep[:, 2:])
    chosen = clear & rising
    rays = chosen.any(axis=1)
    if rays.sum() < _GOOD_SHARE * _RAYS:
        return plain
    # A coin's own ring lies inside its rim.
    outermost = reach.size - 1 - chosen[:, ::-1].argmax(axis=1)
    edges = (np.array([x, y]) + way * (radius + reach[outermost])[:, None])[rays]
    return _disc(edges, plain) or _oval(edges, plain) or plain


def _oval(edges: Points, plain: Rim) -> Rim | None:
    """The ellipse on which nearly all edges lie."""
    kept = np.ones(len(edges), dtype=np.bool_)
    for _ in range(5):
        (cx, cy), (one, other), degrees = cv2.fitEllipse(edges[kept].astype(np.float32))
        if not min(one, other) > 0:
            return None
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        own = (edges - [cx, cy]) @ np.array([[c, -s], [s, c]]) / [one / 2, other / 2]
        off = np.abs(np.hypot(*own.T) - 1)
        fresh = off < max(_ON, 2.5 * float(np.median(off)))
        if fresh.sum() < _NEARLY_ALL * len(edges):
            return None
        if (fresh == kept).all():
            break
        kept = fresh
    long, short = max(one, other) / 2, min(one, other) / 2
    moved = math.hypot(cx - plain.x, cy - plain.y)
    if float(off[kept].mean()) > _ON / 2 or moved > 1.5 * _REACH * plain.radius:
        return None
    if short < 0.8 * long:
        return None
    if short >= _ROUND * long:
        return Rim(cx, cy, math.sqrt(long * short))
    return Rim(cx, cy, long, math.degrees(math.acos(short / long)))


def _disc(edges: Points, plain: Rim) -> Rim | None:
    """The circle on which most edges lie. Where a shadow hides half of the rim, its edge is a
    circle as large as the coin, so it does not matter which of both is found."""
    picks = np.random.default_rng(1).integers(0, len(edges), (_TRIES, 3))
    circles = _through_three(*(edges[picks[:, k]] for k in range(3)))
    with np.errstate(invalid="ignore"):
        far = np.hypot(circles[:, 0] - plain.x, circles[:, 1] - plain.y) / plain.radius
        likely = (far < 1.5 * _REACH) & (np.abs(circles[:, 2] / plain.radius - 1) < 1.5 * _REACH)
    circles = circles[likely]
    if not len(circles):
        return None
    away = np.hypot(edges[None, :, 0] - circles[:, :1], edges[None, :, 1] - circles[:, 1:2])
    on = np.abs(away - circles[:, 2:]) < _ON / 2 * plain.radius
    best = int(on.sum(axis=1).argmax())
    if on[best].sum() < _HALF * len(edges):
        return None
    found = circle_through(edges[on[best]])
    return None if found is None else Rim(*found)


def _through_three(one: Points, two: Points, three: Points) -> Points:
    """Circles (x, y, radius) through three points each; not finite where they lie on a line."""
    a, b = two - one, three - one
    cross = 2 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        aa, bb = (a**2).sum(axis=1), (b**2).sum(axis=1)
        x = (b[:, 1] * aa - a[:, 1] * bb) / cross
        y = (a[:, 0] * bb - b[:, 0] * aa) / cross
        return np.column_stack((one[:, 0] + x, one[:, 1] + y, np.hypot(x, y)))


def without_disc(grey: Grey, rim: Rim) -> Grey:
    """The picture with paper where the coin and its narrow shadow lie."""
    mask = np.zeros_like(grey)
    middle = round(rim.x), round(rim.y)
    cv2.circle(mask, middle, round(1.08 * rim.radius), 1, -1)
    return _papered(grey, mask)


def without_box(
    grey: Grey, left: float, top: float, wide: float, high: float, around: float
) -> Grey:
    """The picture with paper where a card lies, and `around` dots beyond."""
    mask = np.zeros_like(grey)
    one = round(left - around), round(top - around)
    other = round(left + wide + around), round(top + high + around)
    cv2.rectangle(mask, one, other, 1, -1)
    return _papered(grey, mask)


def _papered(grey: Grey, mask: Grey) -> Grey:
    """Paper as bright as it is around the masked place, softly so where the light is uneven."""
    shrink = max(1, max(grey.shape) // (16 * _COARSE))
    size = max(2, grey.shape[1] // shrink), max(2, grey.shape[0] // shrink)
    small = cv2.resize(cv2.medianBlur(grey, 5), size, interpolation=cv2.INTER_AREA)
    # A line of ink that runs past must not be smeared over the place.
    across = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    light = cv2.morphologyEx(small, cv2.MORPH_CLOSE, across)
    hidden = cv2.dilate(
        (cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0).astype(
            np.uint8
        ),
        np.ones((3, 3), np.uint8),
    )
    if hidden.all():
        return grey
    filled = cv2.inpaint(light, hidden, 3, cv2.INPAINT_TELEA)
    paper = cv2.resize(filled, (grey.shape[1], grey.shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.where(mask > 0, paper, grey)
