"""What the cuts of a plan make of one stock piece: parts, and what is wrong with the cuts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from studio.core.cutting.job import Cut, Job, Parting, Stock
from studio.core.verifying.fault import TOLERANCE_MM, Fault
from studio.core.verifying.kept import Kept
from studio.core.verifying.part_metal import PartMetal
from studio.core.verifying.parted.dividing import ON_LINE_MM, Divided, Metal, divided, polygons_in
from studio.core.verifying.parted.reach import beyond_reach
from studio.core.verifying.parted.widths import least_width_mm

ON_ROUGH_MM = 0.06  # a job's rough edges lie on its outlines as true as this


@dataclass(frozen=True, slots=True)
class Made:
    """A cut that was made: `number` counts the cuts of its stock piece, those that were not made
    too."""

    number: int
    cut: Cut
    divided: Divided


@dataclass(frozen=True, slots=True)
class Parted:
    """One stock piece as its cuts leave it.

    `leaves` are the parts through which no cut goes, by number: the stock piece itself, where no
    cut is made, else each a `PartMetal`.
    """

    metal: Stock
    leaves: dict[int, Stock]
    made: tuple[Made, ...]
    faults: tuple[Fault, ...]

    @property
    def cuts_mm(self) -> float:
        """The length of all cuts through the metal."""
        return sum(made.divided.length_mm for made in self.made)


@dataclass(frozen=True, slots=True)
class _Part:
    """A part while cuts are made: by what cuts it came about, and the lines of its edges."""

    outline: Metal
    lineage: str
    edge_lines: tuple[LineString, ...]


def parting_of(job: Job) -> Parting | None:
    """How a job's metal is parted, which it is only by the rules for hands."""
    return None if job.hands is None else job.parting


def is_sawn(job: Job) -> bool:
    """Whether metal is parted with the saw."""
    parting = parting_of(job)
    return parting is not None and parting.way == "saw"


def parted_of(job: Job, metal: Stock, cuts: Iterable[Cut], kept: Kept) -> Parted:
    """What those of the cuts that are through this metal make of it; all of it without parting.

    A cut that does not go through is a fault and makes no parts, so that whatever is cut of them
    is no part of the metal either.
    """
    parting = parting_of(job)
    own = [cut for cut in cuts if cut.metal == metal.id] if parting is not None else []
    if parting is None or not own:
        return Parted(metal, {0: metal}, (), ())
    parts = {0: _Part(metal.outline, metal.id, ())}
    made: list[Made] = []
    faults: list[Fault] = []
    saw = parting.way == "saw"
    for number, cut in enumerate(own):
        part = parts.get(cut.part)
        if part is None:
            known = any(cut.part == one.cut.part for one in made)
            why = "was cut before" if known else "is none that cuts before it make"
            faults.append(_not_through(cut, number, f"part {cut.part} {why}"))
            continue
        # the line alone says what a cut makes, its ends only whether it goes through
        lineage = f"{part.lineage}\0{cut.start!r}{cut.end!r}"
        made_of = partial(divided, part.outline, cut, job.kerf_mm, saw=saw)
        found = kept.get(("divided", lineage), made_of)
        if isinstance(found, str):
            faults.append(_not_through(cut, number, found))
            continue
        del parts[cut.part]
        for k, outline in enumerate((found.left, found.right)):
            lines = (*part.edge_lines, found.edge_lines[k])
            parts[2 * number + 1 + k] = _Part(outline, f"{lineage}{k}", lines)
        made.append(Made(number, cut, found))
        reach = partial(_reach, parting, cut, number, found)
        faults.extend(kept.get(("reach", lineage, number, cut.part), reach))
    leaves: dict[int, Stock] = {}
    for number in sorted(parts):
        if number == 0:
            leaves[number] = metal
            continue
        part = parts[number]
        name = f"{part.lineage}\0part"
        edges, rough = kept.get(("part edges", name), partial(_edges, metal, part, kept))
        leaves[number] = PartMetal(
            name,
            part.outline,
            metal.price_per_mm2,
            metal.clean_edges,
            metal.grain_deg,
            rough,
            metal.id,
            number,
            edges,
        )
        narrow = partial(_narrow, parting, metal.id, number, part.outline, edges)
        faults.extend(kept.get(("width", name, number), narrow))
    return Parted(metal, leaves, tuple(made), tuple(faults))


def unknown_metal(job: Job, cuts: Sequence[Cut]) -> list[Fault]:
    """Cuts through metal that the job does not have."""
    if parting_of(job) is None:
        return []
    number: dict[str, int] = {}
    found = []
    for cut in cuts:
        k = number[cut.metal] = number.get(cut.metal, -1) + 1
        if cut.metal not in job.stock_by_id:
            found.append(_not_through(cut, k, f'the job has no metal "{cut.metal}"'))
    return found


def _not_through(cut: Cut, number: int, why: str) -> Fault:
    at = ((cut.start[0] + cut.end[0]) / 2.0, (cut.start[1] + cut.end[1]) / 2.0)
    return Fault(
        "cut-not-through",
        f"cut {number + 1} of {cut.metal}: {why}",
        "",
        0,
        at=at if np.isfinite(at).all() else None,
        metal=cut.metal,
        cut=number,
        part=cut.part,
    )


def _reach(parting: Parting, cut: Cut, number: int, found: Divided) -> list[Fault]:
    """Where a cut is too long for the shear, or too far in for the frame of the saw."""
    places: list[tuple[float, float, tuple[float, float]]] = []
    for outline, lines in found.stretches:
        if parting.way == "shear":
            most = parting.cut_longest_mm
            # the blade spans all from the first metal to the last, windows and notches too
            (x0, y0), (x1, y1) = lines[0].coords[0], lines[-1].coords[-1]
            long = float(np.hypot(x1 - x0, y1 - y0))
            if most is not None and long > most + TOLERANCE_MM:
                places.append((long, most, ((x0 + x1) / 2.0, (y0 + y1) / 2.0)))
        elif parting.throat_mm is not None:
            beyond = beyond_reach(lines, outline, parting.throat_mm + TOLERANCE_MM)
            if beyond is not None:
                away, spot = beyond
                places.append((away, parting.throat_mm, (spot.x, spot.y)))
    if not places:
        return []
    value, limit, at = max(places)
    what = (
        f"{value:.1f} mm long; the shear cuts {limit:g} mm"
        if parting.way == "shear"
        else f"{value:.1f} mm from the outline; the saw frame reaches {limit:g} mm"
    )
    message = f"cut {number + 1} of {cut.metal} is {what}"
    return [
        Fault(
            "out-of-reach",
            message,
            "",
            0,
            at=at,
            value_mm=value,
            limit_mm=limit,
            metal=cut.metal,
            cut=number,
            part=cut.part,
        )
    ]


def _narrow(
    parting: Parting, code: str, number: int, outline: Metal, edges: MultiLineString
) -> list[Fault]:
    """What of a part is narrower than a cut may leave; what no cut has touched may be so."""
    found = []
    polygons = polygons_in(outline)
    tree = shapely.STRtree(polygons)
    touched = tree.query(shapely.get_parts(edges), predicate="dwithin", distance=ON_LINE_MM)[1]
    for polygon in [polygons[k] for k in np.unique(touched).tolist()]:
        width = least_width_mm(polygon)
        if width < parting.strip_least_mm - TOLERANCE_MM:
            spot = polygon.representative_point()
            message = (
                f"part {number} of {code} is {width:.2f} mm wide; "
                f"{parting.strip_least_mm:g} mm is the least"
            )
            found.append(
                Fault(
                    "strip-too-narrow",
                    message,
                    "",
                    0,
                    at=(spot.x, spot.y),
                    value_mm=width,
                    limit_mm=parting.strip_least_mm,
                    metal=code,
                    cut=(number - 1) // 2,
                    part=number,
                )
            )
    return found


def _edges(metal: Stock, part: _Part, kept: Kept) -> tuple[MultiLineString, MultiLineString | None]:
    """The edges of a part that cuts have made, and the rough ones that it has of its metal."""
    rim = part.outline.boundary
    old = kept.get(("rim", metal.id), lambda: metal.outline.boundary.buffer(ON_LINE_MM))
    corners = [shapely.get_coordinates(line) for line in shapely.get_parts(rim)]
    edges = np.vstack([np.hstack([each[:-1], each[1:]]) for each in corners])
    on_cut = np.zeros(len(edges), dtype=bool)
    for line in part.edge_lines:
        begin, end = np.array(line.coords)
        way = (end - begin) / np.hypot(*(end - begin))
        ends = edges.reshape(-1, 2, 2) - begin
        across = np.abs(ends[:, :, 0] * way[1] - ends[:, :, 1] * way[0])
        on_cut |= (across < ON_LINE_MM).all(axis=1)
    lines = MultiLineString([LineString(one) for one in edges[on_cut].reshape(-1, 2, 2)])
    new = _lines_in(lines.difference(old))
    rough = metal.rough_edges
    if rough is not None:
        rough = _lines_in(rough.intersection(rim.buffer(ON_ROUGH_MM)))
    return new, rough


def _lines_in(geometry: BaseGeometry) -> MultiLineString:
    parts = [
        one
        for each in shapely.get_parts(geometry)
        for one in shapely.get_parts(each)
        if isinstance(one, LineString) and one.length > ON_LINE_MM
    ]
    return MultiLineString(parts)
