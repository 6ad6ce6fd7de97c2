"""Finds the printed capture frame in a photo, and flattens what lies in it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from classroom.figures.rounding import told_mm
from studio.core.drawing import Finding, Weight
from studio.core.reading.errors import PatternError
from studio.core.reading.frame import FRAMES, Frame
from studio.core.reading.scan.limits import LEAST_PX_PER_MM, RESIDUAL_MAX_MM, WORK_PX_PER_MM

from .camera import Camera, fitted_camera, flattened

Grey = NDArray[np.uint8]
Points = NDArray[np.float64]

_LEAST_MARKERS = 4
_LENS_MARKERS = 6
_OUTLIER_MM = 0.4
_SEARCH_PX = 1600


@dataclass(frozen=True, slots=True)
class Framed:
    """The drawing area of a frame as a flat picture, and the camera that saw it."""

    grey: Grey
    px_per_mm: float
    frame: Frame
    camera: Camera
    residual_mm: float
    findings: list[Finding]


def find_frame(grey: Grey, name: str | None) -> Framed | None:
    """None when the picture shows no frame. `name` chooses one frame; None takes any.

    Raises PatternError when there is a frame but too little of it.
    """
    found = _markers(grey)
    frames = [FRAMES[name]] if name is not None else list(FRAMES.values())
    counted = [(sum(m.number in found for m in frame.markers), frame) for frame in frames]
    count, frame = max(counted, key=lambda each: each[0])
    if count < 2:
        return None
    if count < _LEAST_MARKERS:
        raise PatternError(
            "frame-hidden",
            f"Only {count} of the capture frame's {len(frame.markers)} square markers can be seen.",
            "Take the photo again with the whole frame in the picture and no hand over it.",
        )
    paper = np.array([c for m in frame.markers if m.number in found for c in m.corners])
    dots = np.concatenate([found[m.number] for m in frame.markers if m.number in found])
    camera, residual = _camera(paper, dots, grey.shape, count)
    around = np.array(
        [[0, 0], [frame.width_mm, 0], [0, frame.height_mm], [frame.width_mm, frame.height_mm]],
        dtype=np.float64,
    )
    finest = float(camera.scale_at(around).min())
    if finest < LEAST_PX_PER_MM:
        raise PatternError(
            "photo-coarse",
            f"This photo has only {finest * 25.4:.0f} dots for each inch of paper.",
            "Go nearer, so that the frame fills the picture, and use the camera's full size.",
        )
    flat = flattened(grey, camera, frame.width_mm, frame.height_mm, WORK_PX_PER_MM)
    return Framed(flat, WORK_PX_PER_MM, frame, camera, residual, _remarks(residual, count, frame))


def _markers(grey: Grey) -> dict[int, Points]:
    """Corners (4, 2) of each marker by its number, to a fraction of a dot."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    detector = cv2.aruco.ArucoDetector(dictionary, settings)
    shrink = max(1.0, max(grey.shape) / _SEARCH_PX)
    size = round(grey.shape[1] / shrink), round(grey.shape[0] / shrink)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA) if shrink > 1 else grey
    corners, numbers, _ = detector.detectMarkers(small)
    found: dict[int, Points] = {}
    if numbers is None:
        return found
    for quad, number in zip(corners, numbers.ravel().tolist(), strict=True):
        if number in found:
            continue
        rough = (quad.reshape(4, 2).astype(np.float64) + 0.5) * shrink - 0.5
        fine = _sharpened(grey, rough)
        if fine is not None:
            found[number] = fine
    return found


def _sharpened(grey: Grey, rough: Points) -> Points | None:
    """Corners as the meetings of lines fitted to the marker's four sides."""
    sides = []
    for k in range(4):
        fitted = fitted_side(grey, rough[k], rough[(k + 1) % 4], rough.mean(axis=0))
        if fitted is None:
            return None
        sides.append(fitted)
    return np.array([meeting(sides[k - 1], sides[k]) for k in range(4)])


def fitted_side(
    grey: Grey, one: Points, other: Points, inside: Points, margin: float = 0.12
) -> tuple[Points, Points] | None:
    """A point on, and the direction of, the edge between two rough corners.

    The edge is looked for across the side, where the brightness crosses its middle value.
    """
    along = other - one
    length = float(np.hypot(*along))
    if length < 8:
        return None
    along /= length
    across = np.array([along[1], -along[0]])
    if across @ (inside - one) > 0:
        across = -across  # from inside to outside
    count = int(np.clip(length, 12, 160))
    reach = max(3.0, 0.07 * length)
    offsets = np.arange(-reach, reach + 0.1, 0.25)
    base = one + np.linspace(margin, 1 - margin, count)[:, None] * length * along
    at = (base[:, None, :] + offsets[None, :, None] * across).astype(np.float32)
    values = cv2.remap(grey, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    values = values.astype(np.float64)
    quarter = max(2, len(offsets) // 4)
    low = np.median(values[:, :quarter], axis=1)
    high = np.median(values[:, -quarter:], axis=1)
    limit = (low + high) / 2
    above = (values > limit[:, None]) == (high > low)[:, None]
    first = above.argmax(axis=1)
    rows = np.arange(count)
    before = np.maximum(first - 1, 0)
    rise = values[rows, first] - values[rows, before]
    share = np.where(rise != 0, (limit - values[rows, before]) / np.where(rise == 0, 1, rise), 0)
    place = offsets[before] + 0.25 * np.clip(share, 0, 1)
    good = (np.abs(high - low) > 20) & (first > 0)
    if good.sum() < 8:
        return None
    points = base + place[:, None] * across
    points = points[good]
    for _ in range(3):
        centre = points.mean(axis=0)
        axis = np.linalg.svd(points - centre, full_matrices=False)[2][0]
        off = np.abs((points - centre) @ np.array([-axis[1], axis[0]]))
        near = off <= max(0.15, 2.5 * float(np.median(off)))
        if near.all() or near.sum() < 8:
            break
        points = points[near]
    return centre, axis


def meeting(one: tuple[Points, Points], other: tuple[Points, Points]) -> Points:
    (p, u), (q, v) = one, other
    cross = u[0] * v[1] - u[1] * v[0]
    along = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / (cross if abs(cross) > 1e-9 else 1e-9)
    place: Points = p + along * u
    return place


def _camera(
    paper: Points, dots: Points, shape: tuple[int, ...], count: int
) -> tuple[Camera, float]:
    """The camera, and how far marker corners lie from where it puts them (90 of 100, mm)."""
    size = shape[1], shape[0]
    lens = count >= _LENS_MARKERS
    try:
        camera = fitted_camera(paper, dots, size, lens=lens)
        off = np.hypot(*(camera.seen(paper) - dots).T) / camera.scale_at(paper)
        near = off <= max(_OUTLIER_MM, 4 * float(np.median(off)))
        if not near.all() and near.sum() >= 4 * _LEAST_MARKERS:
            camera = fitted_camera(paper[near], dots[near], size, lens=lens)
            off = np.hypot(*(camera.seen(paper) - dots).T) / camera.scale_at(paper)
    except (ValueError, np.linalg.LinAlgError) as odd:
        raise PatternError(
            "frame-odd",
            "The markers of the capture frame do not lie as they were printed.",
            "Print the frame at actual size, lay it flat, and take the photo from above.",
        ) from odd
    return camera, float(np.percentile(off, 90))


def _remarks(residual: float, count: int, frame: Frame) -> list[Finding]:
    remarks: list[Finding] = []
    if residual > RESIDUAL_MAX_MM:
        remarks.append(
            Finding(
                "frame-uneven",
                Weight.CAUTION,
                f"The frame's markers lie up to {told_mm(residual, RESIDUAL_MAX_MM)} mm from "
                "where they were printed: the paper is not flat, or the photo is blurred.",
                "Lay the paper flat and take the photo again from above, in good light.",
                value_mm=residual,
                limit_mm=RESIDUAL_MAX_MM,
            )
        )
    if count < _LENS_MARKERS:
        remarks.append(
            Finding(
                "frame-partly",
                Weight.CAUTION,
                f"Only {count} of {len(frame.markers)} markers can be seen, too few to tell how "
                "the lens bends straight lines.",
                "Take the photo again with the whole frame in the picture.",
            )
        )
    return remarks
