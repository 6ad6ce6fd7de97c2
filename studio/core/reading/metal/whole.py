"""From one photo to one piece of metal: its outline, what may be windows, and what to tell."""

from __future__ import annotations

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from classroom.figures.rounding import told_mm
from studio.core.areas import without
from studio.core.drawing import Finding, Weight
from studio.core.reading.frame import FRAMES
from studio.core.reading.scan.ink.inking import find_ink
from studio.core.reading.scan.ink.middling import pen_width
from studio.core.reading.scan.ink.shaping import shaped
from studio.core.reading.scan.scaling.markers import Framed, find_frame

from ..errors import PatternError
from ..scan.sheet import read_sheet
from . import MetalAsked, MetalPhoto, Opening
from .above import camera_over, put_down
from .rims import Rim, rim_of, sure_by
from .silhouette import Silhouette, find_metal

Grey = NDArray[np.uint8]
Points = NDArray[np.float64]

_SIMPLE_MM = 0.03
_BLUR_MM = 0.3  # nearer to a corner than this the edge is rounded off
_SHARP = 0.7  # of an opening's rim
_PAPER = (0.5, 1.07)  # levels: what lies in a window is paper, perhaps in shadow
_UNSEEN_MM = 2.0
_SHADED = 0.1  # of the outline
_SHADED_WINDOW = 0.1  # of a window's rim
_HAIR_MM = 0.1
_NARROW_MM = 0.8
_AROUND_MM = 6.0
_PICTURE_PX = 900


def metal_of(grey: Grey, asked: MetalAsked) -> MetalPhoto:
    """Raises PatternError."""
    if asked.frame is not None and asked.frame not in FRAMES:
        raise PatternError(
            "frame-unknown",
            f"There is no capture frame of the name {asked.frame[:20]!r}.",
            f"The frames are: {', '.join(FRAMES)}.",
        )
    framed = find_frame(grey, asked.frame)
    if framed is None:
        raise PatternError(
            "frame-missing",
            "The capture frame's square markers cannot be seen in this picture.",
            "Lay the metal inside the printed frame, and put the whole frame into the picture.",
        )
    if asked.traced:
        outer, openings, remarks = _traced(framed)
    else:
        outer, openings, remarks = _seen(framed, asked.thickness_mm)
    return _answer(framed, outer, openings, [*framed.findings, *remarks])


def _seen(framed: Framed, thickness_mm: float) -> tuple[Polygon, list[Opening], list[Finding]]:
    """The metal itself lies in the frame."""
    found = find_metal(framed.grey, framed.px_per_mm)
    scale, over = framed.px_per_mm, camera_over(framed.camera)
    outer = rim_of(found.level, found.outer, scale, opening=False, ground=found.ground, own=1)
    usual = float(np.median(outer.steep))
    sure = sure_by(outer, usual)
    if sure.mean() < 0.6:
        raise PatternError(
            "edge-unseen",
            "Most of the metal's edge cannot be told from the paper.",
            "Turn the metal so that it does not mirror the light, use daylight from a window, or "
            "draw round the metal with a pen and photograph the line.",
        )
    outline = _polygon(framed, outer, sure, over, thickness_mm)
    openings = []
    shaded = False
    for number, ring in enumerate(found.openings):
        rim = rim_of(found.level, ring, scale, opening=True, ground=found.ground, own=number + 2)
        seen = sure_by(rim, usual)
        try:
            shape = _polygon(framed, rim, seen, over, thickness_mm)
        except PatternError:
            continue
        window = _is_window(found, ring, seen, scale)
        if number in found.bays and not outline.buffer(-0.05).contains(shape):
            if window:
                # A bay whose mouth is so narrow that it was bridged.
                outline = _whole(without(outline, shape.buffer(0.1)))
            continue
        if not outline.buffer(-0.05).contains(shape):
            # Metal all round, a hair of it at one place: a window all the same.
            within = shape.intersection(outline.buffer(-_HAIR_MM))
            if within.area < 0.5 * shape.area:
                continue
            shape = _whole(within)
        openings.append(Opening(shape, window))
        shaded |= window and float(rim.shaded.mean()) > _SHADED_WINDOW
    told = _remarks(framed, found, outer, sure, openings)
    if shaded:
        told.append(_shaded_windows())
    return outline, openings, [*told, *_narrow(outline, openings)]


def _is_window(found: Silhouette, ring: Points, seen: NDArray[np.bool_], px_per_mm: float) -> bool:
    """A sawn edge is sharp all round and paper lies inside; mirrored light fades away."""
    if float(seen.mean()) < _SHARP:
        return False
    x0, y0 = np.floor(ring.min(axis=0)).astype(int)
    x1, y1 = np.ceil(ring.max(axis=0)).astype(int) + 1
    inside = np.zeros((y1 - y0, x1 - x0), dtype=np.uint8)
    cv2.fillPoly(inside, [np.rint(ring - [x0, y0]).astype(np.int32)], 1)
    deep = cv2.distanceTransform(cv2.copyMakeBorder(inside, 1, 1, 1, 1, cv2.BORDER_CONSTANT), 2, 5)
    deep = deep[1:-1, 1:-1]
    core = deep > min(0.4 * px_per_mm, 0.5 * float(deep.max()))
    level = float(np.median(found.level[y0:y1, x0:x1][core]))
    return _PAPER[0] < level < _PAPER[1]


def _polygon(
    framed: Framed, rim: Rim, sure: NDArray[np.bool_], over: Points, thickness_mm: float
) -> Polygon:
    """The ring as it lies on the paper, in millimetres."""
    scale = framed.px_per_mm
    mm = _mm(framed, rim.points)
    away = rim.away * [1.0, -1.0]
    flat = put_down(mm, away, over, thickness_mm) * scale
    line = shaped(
        flat,
        sure,
        True,
        half=_BLUR_MM * scale / 2,
        px_per_mm=scale,
        simple=_SIMPLE_MM * scale,
    )
    return _whole(Polygon(line / scale) if len(line) >= 3 else Polygon())


def _whole(shape: BaseGeometry) -> Polygon:
    parts = [
        part
        for part in shapely.get_parts(shapely.make_valid(shape))
        if isinstance(part, Polygon) and part.area > 0.2
    ]
    if not parts:
        raise PatternError(
            "metal-odd",
            "The outline that was found is no whole shape.",
            "Take the photo again in even light, or draw round the metal with a pen.",
        )
    best: Polygon = max(parts, key=lambda part: float(part.area))
    return Polygon(best.exterior)


def _mm(framed: Framed, dots: Points) -> Points:
    height = framed.grey.shape[0]
    x = (dots[:, 0] + 0.5) / framed.px_per_mm
    y = (height - dots[:, 1] - 0.5) / framed.px_per_mm
    return np.stack((x, y), axis=1)


def _dots(framed: Framed, mm: Points) -> Points:
    height = framed.grey.shape[0]
    return np.stack(
        (mm[:, 0] * framed.px_per_mm - 0.5, height - mm[:, 1] * framed.px_per_mm - 0.5), axis=1
    )


def _traced(framed: Framed) -> tuple[Polygon, list[Opening], list[Finding]]:
    """A pen line was drawn round the metal, and along the inside of its windows."""
    lines, remarks = read_sheet(framed.grey, framed.px_per_mm)
    rings = [Polygon(line.points) for line in lines if line.closed and len(line.points) >= 3]
    rings.sort(key=lambda ring: -ring.area)
    if not rings:
        raise PatternError(
            "line-open",
            "The pen line does not close.",
            "Draw all the way round the metal, until the line meets itself.",
        )
    beside = [ring for ring in rings[1:] if not rings[0].intersects(ring)]
    if any(ring.area > 0.15 * rings[0].area for ring in beside):
        raise PatternError(
            "metal-several",
            "There are several outlines in the frame.",
            "Draw round one piece of metal at a time.",
        )
    half = find_ink(framed.grey, framed.px_per_mm).half
    line = _dots(framed, np.array(rings[0].exterior.coords)[:-1])
    dense = shapely.get_coordinates(shapely.segmentize(shapely.linearrings(line), 1.0))[:-1]
    pen = pen_width(framed.grey, dense, True, half) / framed.px_per_mm
    # Outer line and windows alike: the metal ends half a pen's width before the pen's middle.
    outer = _whole(rings[0].buffer(-pen / 2, join_style="mitre", mitre_limit=3.0))
    openings = [
        Opening(_whole(ring.buffer(pen / 2, join_style="mitre", mitre_limit=3.0)), True)
        for ring in rings[1:]
        if outer.contains(ring)
    ]
    return outer, openings, remarks


def _remarks(
    framed: Framed,
    found: Silhouette,
    outer: Rim,
    sure: NDArray[np.bool_],
    openings: list[Opening],
) -> list[Finding]:
    told: list[Finding] = []
    run, middle = _longest(~sure)
    length = run / framed.px_per_mm
    if length > _UNSEEN_MM:
        x, y = _mm(framed, outer.points[middle : middle + 1])[0]
        told.append(
            Finding(
                "edge-unclear",
                Weight.CAUTION,
                f"Along {length:.0f} mm the metal's edge is as bright as the paper; it is carried "
                "on straight there.",
                "Compare that stretch with the metal. If it is wrong, turn the metal so that it "
                "does not mirror the light and take the photo again, or draw round it with a pen.",
                at=(float(x), float(y)),
                value_mm=length,
            )
        )
    shaded = float(outer.shaded.mean())
    if shaded > _SHADED:
        told.append(
            Finding(
                "hard-shadow",
                Weight.CAUTION,
                f"The metal throws a hard shadow along {shaded:.0%} of its outline; the edge was "
                "looked for inside of it.",
                "Hold a ruler against the size below. Daylight from a window without sun, or a "
                "pen line drawn round the metal, is surer.",
            )
        )
    if any(not one.window for one in openings):
        told.append(
            Finding(
                "bright-spot",
                Weight.CAUTION,
                "Bright places inside the metal were taken for mirrored light, not for windows.",
                "Tick one below if it is a window after all.",
            )
        )
    if found.others:
        told.append(
            Finding(
                "things-beside",
                Weight.CAUTION,
                "Something small beside the metal was left out.",
                "Nothing to do, unless it belongs to the piece.",
            )
        )
    return told


def _shaded_windows() -> Finding:
    return Finding(
        "window-shadow",
        Weight.CAUTION,
        "The metal's own shadow falls into its windows; small ones may be read too small.",
        "Compare them with the metal. Daylight from a window without sun throws less of it; a pen "
        "line drawn along the inside of the windows is surest.",
    )


def _narrow(outline: Polygon, openings: list[Opening]) -> list[Finding]:
    """Where hardly any metal is left between a window and the outside."""
    told = []
    for one in openings:
        left = float(one.outline.distance(outline.exterior))
        if one.window and left < _NARROW_MM:
            _, at = nearest_points(one.outline, outline.exterior)
            told.append(
                Finding(
                    "bridge-narrow",
                    Weight.CAUTION,
                    f"Only {told_mm(left)} mm of metal lies between a window and the edge.",
                    "Look there: if the metal is broken through, file the place open and take the "
                    "photo again, so that it is read as a bay.",
                    at=(float(at.x), float(at.y)),
                    value_mm=left,
                )
            )
    return told


def _longest(wanted: NDArray[np.bool_]) -> tuple[int, int]:
    """Length of the longest run round the ring, and the index of its middle."""
    if wanted.all():
        return len(wanted), 0
    if not wanted.any():
        return 0, 0
    start = int(np.flatnonzero(~wanted)[0])
    turned = np.roll(wanted, -start).astype(np.int8)
    steps = np.diff(np.concatenate(([0], turned, [0])))
    begins, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    best = int((ends - begins).argmax())
    middle = (int(begins[best] + ends[best]) // 2 + start) % len(wanted)
    return int(ends[best] - begins[best]), middle


def _answer(
    framed: Framed, outer: Polygon, openings: list[Opening], findings: list[Finding]
) -> MetalPhoto:
    height, width = framed.grey.shape
    scale = framed.px_per_mm
    x0, y0, x1, y1 = outer.buffer(_AROUND_MM).bounds
    left, right = max(0, round(x0 * scale)), min(width, round(x1 * scale))
    top, bottom = max(0, height - round(y1 * scale)), min(height, height - round(y0 * scale))
    part = framed.grey[top:bottom, left:right]
    shrink = min(1.0, _PICTURE_PX / max(part.shape))
    size = max(1, round(part.shape[1] * shrink)), max(1, round(part.shape[0] * shrink))
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    done, file = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 72])
    if not done:
        raise ValueError("the picture could not be written")
    return MetalPhoto(
        outer,
        tuple(openings),
        tuple(findings),
        file.tobytes(),
        left / scale,
        (height - bottom) / scale,
        (right - left) / scale,
        (bottom - top) / scale,
    )
