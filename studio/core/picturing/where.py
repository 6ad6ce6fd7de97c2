"""Where on the metal does a project's pattern lie? The area to rub, with its measures.

It is where the project's papers lie, as the pattern sheet prints them. Millimetres; paths have
y pointing down, as a picture wants it. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import united
from studio.core.cutting import Job, Plan

from .cuts_for_two import shared_width_mm
from .papers import OnPaper, papers_on_metal

MARGIN_SHARE = 0.05
TEXT_SHARE = 0.045


@dataclass(frozen=True, slots=True)
class Area:
    """One place that a pattern covers: its box as seen from the metal's left and lower edge."""

    number: int
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float
    at: tuple[float, float]  # where its number is written


@dataclass(frozen=True, slots=True)
class WherePicture:
    """One stock piece: the metal, what is to be rubbed on it, and whose pieces lie there."""

    code: str
    view_box: str
    width_mm: float
    height_mm: float
    metal: str
    rub: str
    own: str
    others: str
    areas: tuple[Area, ...]
    text_mm: float


def where_to_prepare(
    job: Job, plan: Plan, group: str, *, rim_mm: float
) -> tuple[WherePicture, ...]:
    """The stock pieces that the group's pieces lie on, in the job's order."""
    return tuple(
        _one(job, plan, number, group, rim_mm)
        for number, metal in enumerate(job.metal)
        if any(
            placed.metal == metal.id and job.wanted_by_id[placed.piece].group == group
            for placed in plan.placements
        )
    )


def _one(job: Job, plan: Plan, number: int, group: str, rim_mm: float) -> WherePicture:
    metal = job.metal[number]
    own: list[Polygon] = []
    others: list[Polygon] = []
    laid: list[OnPaper] = []
    for placed in plan.placements:
        if placed.metal == metal.id:
            wanted = job.wanted_by_id[placed.piece]
            outline = placed.lay(wanted.outline)
            (own if wanted.group == group else others).append(outline)
            laid.append(OnPaper(outline, wanted.group or wanted.id))
    # Neighbours' metal stays as it came: their own papers go there.
    papers = papers_on_metal(laid, metal.outline, rim_mm=rim_mm, shared_mm=shared_width_mm(job))
    rub = united(paper.outline for paper in papers if laid[paper.holds[0]].owner == group)
    x0, y0, x1, y1 = metal.outline.bounds
    span = max(x1 - x0, y1 - y0)
    margin = MARGIN_SHARE * span
    text = TEXT_SHARE * span
    box = (-margin, -margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin)
    return WherePicture(
        code=metal.id,
        view_box=" ".join(_number(value) for value in box),
        width_mm=x1 - x0,
        height_mm=y1 - y0,
        metal=_path(metal.parts, x0, y1),
        rub=_path(_parts(rub), x0, y1),
        own=_path(own, x0, y1),
        others=_path(others, x0, y1),
        areas=tuple(
            _area(count, part, x0, y0, y1) for count, part in enumerate(_parts(rub), start=1)
        ),
        text_mm=round(text, 2),
    )


def _area(number: int, part: Polygon, left: float, bottom: float, top: float) -> Area:
    x0, y0, x1, y1 = part.bounds
    spot = part.representative_point()
    return Area(
        number,
        x0 - left,
        y0 - bottom,
        x1 - x0,
        y1 - y0,
        (round(spot.x - left, 2), round(top - spot.y, 2)),
    )


def _parts(shape: shapely.Geometry) -> list[Polygon]:
    """The connected areas, from the left to the right."""
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shape]
    if isinstance(shape, MultiPolygon):
        return sorted(shape.geoms, key=lambda part: part.bounds[:2])
    return [part for one in getattr(shape, "geoms", ()) for part in _parts(one)]


def _path(shapes: Iterable[Polygon], left: float, top: float) -> str:
    rings = [ring for shape in shapes for ring in (shape.exterior, *shape.interiors)]
    return "".join(
        "M"
        + "L".join(f"{_number(x - left)} {_number(top - y)}" for x, y, *_ in ring.coords[:-1])
        + "Z"
        for ring in rings
    )


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
