"""What version 1.2 of a job adds, read strictly: rules for hands, fixed pieces, a layout to begin
from. A job without these rules is of version 1 or 1.1."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from shapely.errors import ShapelyError
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon

from .job import Hands, Job, Placement, Worth
from .parting import parting_to_json
from .strictly import JobError, any_number, flag, listed, mapping, number, only

FIELDS = (
    "gap_mm shared_mm straight_min_mm worth fixed start parting parting_margin_mm strip_least_mm "
    "cut_longest_mm throat_mm"
)
"""The fields of a job beyond those of version 1.1."""

STRAIGHT_MIN_MM = 8.0
ON_METAL_MM = 0.001
ON_OUTLINE_MM = 0.05
NUMBERS = ("turn_deg", "x_mm", "y_mm")
FAR_MM = 1e6
"""Whatever lies as far off as this, or farther, lies on no metal, wherever it is drawn."""

MOST_TEXT = 2_000_000
MOST_POINTS = 20_000


def hands_from_json(top: Mapping[str, Any], kerf: float) -> tuple[Hands, Worth]:
    """The rules for hands, with their defaults, and the rule for what leftovers are worth."""
    gap = number(top, "gap_mm", "", kerf, 0.0, 100.0)
    if gap < kerf:
        raise JobError("gap_mm", f"{gap:g} is less than the kerf ({kerf:g}), which the saw takes")
    shared = number(top, "shared_mm", "", kerf, 0.0, 100.0)
    if shared < kerf:
        raise JobError("shared_mm", f"{shared:g} is less than the kerf ({kerf:g})")
    straight = number(top, "straight_min_mm", "", STRAIGHT_MIN_MM, 0.0, 10_000.0)
    worth = top.get("worth", "two")
    if worth not in ("one", "two"):
        raise JobError("worth", 'write "one" or "two"')
    return Hands(gap, shared, straight), worth


def hands_to_json(job: Job) -> dict[str, Any]:
    """The fields that version 1.2 adds to a job; none for other rules."""
    if job.hands is None:
        return {}
    return {
        "gap_mm": job.hands.gap_mm,
        "shared_mm": job.hands.shared_mm,
        "straight_min_mm": job.hands.straight_min_mm,
        "worth": job.worth,
        "fixed": [placement_to_json(p) for p in job.fixed],
        "start": [placement_to_json(p) for p in job.start],
    } | parting_to_json(job.parting)


def rough_edges_of(
    data: Mapping[str, Any], where: str, outline: Polygon | MultiPolygon
) -> MultiLineString | None:
    """The stretches of a metal's outline that are not clean; None where nothing is said."""
    text = data.get("rough_edges")
    if text is None:
        return None
    field = f"{where}.rough_edges"
    if not isinstance(text, str) or len(text) > MOST_TEXT:
        raise JobError(field, "well-known text such as MULTILINESTRING ((0 0, 9 0)) is wanted")
    try:
        with np.errstate(all="ignore"):
            lines = shapely.force_2d(shapely.from_wkt(text))
    except (ShapelyError, ValueError, TypeError):
        raise JobError(field, "not well-known text that can be read") from None
    if isinstance(lines, LineString):
        lines = MultiLineString([] if lines.is_empty else [lines])
    if not isinstance(lines, MultiLineString):
        raise JobError(field, "a MULTILINESTRING is wanted")
    coords = shapely.get_coordinates(lines)
    if len(coords) > MOST_POINTS:
        raise JobError(field, f"{len(coords)} points; {MOST_POINTS} is the most")
    if not np.isfinite(coords).all():
        raise JobError(field, "coordinates must be numbers")
    rim = outline.boundary
    shapely.prepare(rim)
    within = shapely.dwithin(rim, shapely.points(coords), ON_OUTLINE_MM).all()
    if not within or not _runs_along(lines, rim):
        raise JobError(field, f"they must run along the outline, true to {ON_OUTLINE_MM:g} mm")
    return None if lines.is_empty else lines


def _runs_along(lines: MultiLineString, rim: shapely.Geometry) -> bool:
    """Whether lines lie on the rim between their points too."""
    if lines.is_empty:
        return True
    band = shapely.buffer(rim, ON_OUTLINE_MM)
    return float(shapely.difference(lines, band).length) <= ON_OUTLINE_MM


def placement_to_json(p: Placement) -> dict[str, Any]:
    """A placement as jobs and plans write it."""
    return {
        "piece": p.piece,
        "copy": p.copy,
        "metal": p.metal,
        "mirror": p.mirror,
        "turn_deg": p.turn_deg,
        "x_mm": p.x_mm,
        "y_mm": p.y_mm,
    }


def placements_from_json(
    data: Mapping[str, Any], name: str, *, most: int, within_mm: float | None
) -> tuple[Placement, ...]:
    """The placements in the list of that name, whatever they name; empty where there is none.

    Raises JobError for what is no placement at all. Whether the job knows the piece and the
    metal is for the judge to say, or for `check_known`. Numbers lie within so much of 0; with None
    any will do, also those that no piece can lie at; a shift beyond `FAR_MM` counts as that far.
    """
    if data.get(name) is None:
        return ()
    return tuple(
        _placement(entry, f"{name}[{i}]", within_mm)
        for i, entry in enumerate(listed(data, name, most))
    )


def _placement(entry: object, where: str, within_mm: float | None) -> Placement:
    data = mapping(entry, where)
    only(data, where, "piece copy metal mirror turn_deg x_mm y_mm")
    for name in ("piece", "metal"):
        if not isinstance(data.get(name), str) or len(data[name]) > 200:
            raise JobError(f"{where}.{name}", "an id of the job is wanted")
    copy = data.get("copy", 0)
    if isinstance(copy, bool) or not isinstance(copy, int) or abs(copy) > 10**9:
        raise JobError(f"{where}.copy", "a whole number is wanted")
    if within_mm is None:
        turn, *shifts = (any_number(data.get(name, 0.0), f"{where}.{name}") for name in NUMBERS)
        x, y = (_not_too_far(shift) for shift in shifts)
    else:
        turn, x, y = (number(data, name, where, 0.0, -within_mm, within_mm) for name in NUMBERS)
    return Placement(
        piece=data["piece"],
        copy=copy,
        metal=data["metal"],
        mirror=flag(data, "mirror", where, default=False),
        turn_deg=turn,
        x_mm=x,
        y_mm=y,
    )


def _not_too_far(shift: float) -> float:
    """A shift that can be reckoned with; what is no number stays none."""
    return max(-FAR_MM, min(FAR_MM, shift)) if math.isfinite(shift) else shift


def check_known(job: Job, placements: Sequence[Placement], name: str) -> None:
    """Refuse placements of what the job does not have, and any that is there twice."""
    seen: set[tuple[str, int]] = set()
    for i, p in enumerate(placements):
        where = f"{name}[{i}]"
        wanted = job.wanted_by_id.get(p.piece)
        if wanted is None:
            raise JobError(f"{where}.piece", f'the job has no piece "{p.piece[:60]}"')
        if p.metal not in job.stock_by_id:
            raise JobError(f"{where}.metal", f'the job has no metal "{p.metal[:60]}"')
        if not 0 <= p.copy < wanted.count:
            raise JobError(f"{where}.copy", f"{p.copy} of {wanted.count} wanted, counted from 0")
        if (p.piece, p.copy) in seen:
            raise JobError(where, f'copy {p.copy} of "{p.piece[:60]}" is there twice')
        seen.add((p.piece, p.copy))


def check_on_metal(job: Job) -> None:
    """Refuse a fixed piece that does not lie on its metal: nothing can be laid round it."""
    for i, p in enumerate(job.fixed):
        metal = job.stock_by_id[p.metal]
        outline = p.lay(job.wanted_by_id[p.piece].outline)
        if not any(part.buffer(ON_METAL_MM).covers(outline) for part in metal.parts):
            raise JobError(f"fixed[{i}]", f"it does not lie within {p.metal[:60]}")


def check_strip(job: Job) -> None:
    """Refuse placements of a strip elsewhere than on the first metal: no other is looked at."""
    if job.goal != "strip":
        return
    for name, placements in (("fixed", job.fixed), ("start", job.start)):
        for i, p in enumerate(placements):
            if p.metal != job.metal[0].id:
                raise JobError(
                    f"{name}[{i}].metal", f"a strip lies on the first metal, {job.metal[0].id[:60]}"
                )
