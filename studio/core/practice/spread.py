"""Pieces set out in rows, with room between them: for a picture, or to be cut out of paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon

from studio.core.cutting import Job


@dataclass(frozen=True, slots=True)
class SetOut:
    """One copy of a piece where it is set out, on a page with y upwards."""

    piece: str
    copy: int
    outline: Polygon


def spread(
    job: Job, width_mm: float, height_mm: float, *, apart_mm: float
) -> Sequence[Sequence[SetOut]]:
    """Every copy on pages of this size, row after row from the upper left, largest pieces first.

    No two are nearer than `apart_mm`. A piece that is wider than high lies so. One that is larger
    than a page has a page of its own and reaches over it.
    """
    pages: list[list[SetOut]] = []
    page: list[SetOut] = []
    x = y = row = 0.0
    for piece, copy, outline in sorted(_copies(job), key=lambda one: -_size(one[2])[1]):
        width, height = _size(outline)
        if x > 0.0 and x + width > width_mm:
            x, y, row = 0.0, y + row + apart_mm, 0.0
        if page and y + height > height_mm:
            pages.append(page)
            page, x, y, row = [], 0.0, 0.0, 0.0
        left, _, _, top = outline.bounds
        page.append(SetOut(piece, copy, affinity.translate(outline, x - left, -y - top)))
        x += width + apart_mm
        row = max(row, height)
    return [*pages, page]


def _copies(job: Job) -> Iterable[tuple[str, int, Polygon]]:
    for wanted in job.pieces:
        width, height = _size(wanted.outline)
        upright = height > width
        outline = affinity.rotate(wanted.outline, 90.0) if upright else wanted.outline
        for copy in range(wanted.count):
            yield wanted.id, copy, outline


def _size(outline: Polygon) -> tuple[float, float]:
    x0, y0, x1, y1 = outline.bounds
    return x1 - x0, y1 - y0
