"""How large is the drawing? Chooses where the scale comes from, then has the sheet read."""

from __future__ import annotations

import cv2
import numpy as np

from studio.core.drawing import Finding, Weight
from studio.core.reading.bounds import MAX_SIZE_MM, MIN_SIZE_MM
from studio.core.reading.errors import PatternError
from studio.core.reading.frame import FRAMES
from studio.core.reading.rough import Asked, Rough, RoughLine
from studio.core.reading.scan.ink.inking import Grey, find_ink
from studio.core.reading.scan.limits import LEAST_PX_PER_MM, WORK_PIXELS
from studio.core.reading.scan.opening import Picture
from studio.core.reading.scan.paper import paper_of
from studio.core.reading.scan.sheet import read_sheet
from studio.core.reading.tracing import Round, Source

from .markers import find_frame
from .references import by_reference

_SCREEN_DPI = 97.0  # 72 and 96 are what programs write when they know nothing
_PAPER_MM = 210.0  # a guess at what a whole picture shows, to begin with


def rough_of(picture: Picture, asked: Asked) -> Rough:
    """Raises PatternError, also when nothing says how large the drawing is."""
    if asked.frame is not None and asked.frame not in FRAMES:
        raise PatternError(
            "frame-unknown",
            f"There is no capture frame of the name {asked.frame[:20]!r}.",
            f"The frames are: {', '.join(FRAMES)}.",
        )
    if asked.reference is not None:
        flat, px_per_mm, findings = by_reference(picture.grey, asked.reference)
        return _read(flat, px_per_mm, "photo", "reference", findings)
    stated = picture.dpi if picture.dpi and min(picture.dpi) > _SCREEN_DPI else None
    if picture.is_photo:
        stated = None
    dpi = (asked.dpi, asked.dpi) if asked.dpi is not None else stated
    if asked.frame is not None or (dpi is None and asked.width_mm is None) or picture.is_photo:
        framed = find_frame(picture.grey, asked.frame)
        if framed is not None:
            return _read(framed.grey, framed.px_per_mm, "photo", "frame", framed.findings)
        if asked.frame is not None:
            raise PatternError(
                "frame-missing",
                "The capture frame's square markers cannot be seen in this picture.",
                "Put the whole frame into the picture, in focus and evenly lit.",
            )
    if asked.width_mm is not None:
        return _by_width(picture, asked.width_mm, dpi)
    if dpi is None:
        raise PatternError(
            "size-unknown",
            "This picture does not say how large the paper is.",
            "Give the scanner's resolution or the width of the drawing, or photograph the "
            "drawing in the printed capture frame.",
        )
    flat, px_per_mm = _square(picture.grey, dpi)
    source = "resolution" if asked.dpi is not None else "file"
    return _read(flat, px_per_mm, "scan", source, [])


def _square(grey: Grey, dpi: tuple[float, float]) -> tuple[Grey, float]:
    """The same picture with as many dots up as across, no more than are worked on."""
    across, up = dpi[0] / 25.4, dpi[1] / 25.4
    goal = min(across, up)
    if goal < LEAST_PX_PER_MM - 1e-6:
        raise PatternError(
            "scan-coarse",
            f"At {goal * 25.4:.0f} dpi a pen line is hardly wider than one dot.",
            "Scan at 300 dpi.",
        )
    height, width = grey.shape
    dots = width * height * (goal / across) * (goal / up)
    if dots > WORK_PIXELS:
        goal = max(LEAST_PX_PER_MM, goal * (WORK_PIXELS / dots) ** 0.5)
    if max(across, up) / goal < 1.0005:
        return grey, goal
    size = max(1, round(width * goal / across)), max(1, round(height * goal / up))
    return cv2.resize(grey, size, interpolation=cv2.INTER_AREA), goal


def _by_width(picture: Picture, width_mm: float, dpi: tuple[float, float] | None) -> Rough:
    """The leftmost to the rightmost read line is as wide as was typed."""
    grey = picture.grey
    if dpi is None:
        guess = grey.shape[1] / _PAPER_MM
        found = np.flatnonzero(find_ink(grey, guess).mask.any(axis=0))
        scale = float(found[-1] - found[0] + 1) / width_mm
        dpi = scale * 25.4, scale * 25.4
    flat, px_per_mm = _square(grey, dpi)
    rough = _read(flat, px_per_mm, "scan", "option", [])
    xs = np.concatenate([line.points[:, 0] for line in rough.lines if line.closed] or [np.empty(0)])
    if not xs.size or np.ptp(xs) <= 0:
        xs = np.concatenate([line.points[:, 0] for line in rough.lines])
    factor = width_mm / float(np.ptp(xs)) if np.ptp(xs) > 0 else 1.0
    findings = list(rough.findings)
    if picture.is_photo or picture.dpi is None:
        findings.append(
            Finding(
                "width-photo",
                Weight.CAUTION,
                "The size comes from one typed width. That serves for a flatbed scan; a photo "
                "taken by hand can be millimetres off.",
                "Scan the paper, or photograph it in the printed capture frame.",
            )
        )
    source = rough.source
    return Rough(
        Source(source.kind, "px", "option", source.width_mm * factor, source.height_mm * factor),
        [_scaled(line, factor) for line in rough.lines],
        findings,
        rough.paper,
    )


def _scaled(line: RoughLine, factor: float) -> RoughLine:
    circle = line.round
    if circle is not None:
        circle = Round(circle.x_mm * factor, circle.y_mm * factor, circle.diameter_mm * factor)
    return RoughLine(line.points * factor, line.closed, circle, line.element, line.name, line.hint)


def _read(
    grey: Grey, px_per_mm: float, kind: str, scale_from: str, findings: list[Finding]
) -> Rough:
    height, width = grey.shape
    size = width / px_per_mm, height / px_per_mm
    if not MIN_SIZE_MM <= max(size) <= MAX_SIZE_MM:
        raise PatternError(
            "picture-size",
            f"At this scale the picture would be {max(size):,.0f} mm long.",
            "Give the resolution or the width again.",
        )
    lines, remarks = read_sheet(grey, px_per_mm)
    source = Source(kind, "px", scale_from, size[0], size[1])
    return Rough(source, lines, [*findings, *remarks], paper_of(grey))
