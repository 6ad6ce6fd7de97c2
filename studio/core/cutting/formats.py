"""The JSON forms of a job and of a plan, read strictly: bounds on everything, clear refusals.

The formats are those of `place_pieces` and change only with their version number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import wkt
from shapely.errors import ShapelyError
from shapely.geometry import MultiPolygon, Polygon

from .by_hand import (
    FIELDS,
    check_known,
    check_on_metal,
    check_strip,
    hands_from_json,
    hands_to_json,
    placement_to_json,
    placements_from_json,
    rough_edges_of,
)
from .job import (
    Cut,
    Hands,
    Job,
    Measures,
    Offcut,
    Placement,
    Plan,
    Stock,
    Unplaced,
    Wanted,
    Worth,
    to_wkt,
)
from .parting import (
    blanks_from_json,
    blanks_to_json,
    cuts_from_json,
    cuts_to_json,
    parting_from_json,
)
from .strictly import JobError, finite, flag, listed, mapping, number, only

VERSION = 1
MORE_VERSION = 1.1
"""Version 1.1 of a job may say of pieces `grain_deg`, and of the whole `edge_margin_mm`. It is
written only where one of the two is used."""

HANDS_VERSION = 1.2
"""Version 1.2 has rules of its own for what hands need of a plan (`by_hand`)."""

MARGIN_BY_HAND_MM = 2.0
"""What stays free along edges that are not clean, in version 1.2, where a job does not say."""

MAX_METALS = 300
MAX_KINDS = 2000
MAX_COPIES = 3000
MAX_PLACEMENTS = MAX_COPIES
MAX_VERTICES = 20_000
MAX_TOTAL_VERTICES = 150_000  # every copy counted: the judge looks at each as it is drawn
MAX_COORDINATE_MM = 100_000.0
MAX_TURNS = 720
MAX_TEXT = 2_000_000
MIN_PIECE_AREA_MM2 = 0.01


def job_from_json(data: object) -> Job:
    """The job in `data` (parsed JSON). Raises JobError naming the first field that is unusable."""
    top = mapping(data, "job")
    version = top.get("version", VERSION)
    if isinstance(version, bool) or version not in (VERSION, MORE_VERSION, HANDS_VERSION):
        raise JobError(
            "version",
            f"only versions {VERSION}, {MORE_VERSION} and {HANDS_VERSION} are understood",
        )
    newer = version in (MORE_VERSION, HANDS_VERSION)
    by_hand = version == HANDS_VERSION
    only(
        top,
        "job",
        "version kerf_mm saw_cost_per_mm scrap_worth offcut_min_width_mm offcut_min_area_mm2 "
        "metal pieces goal"
        + (" edge_margin_mm" if newer else "")
        + (f" {FIELDS}" if by_hand else ""),
    )
    goal = top.get("goal", "plan")
    if goal not in ("plan", "strip"):
        raise JobError("goal", 'write "plan" or "strip"')
    metals = listed(top, "metal", MAX_METALS)
    kinds = listed(top, "pieces", MAX_KINDS)
    kerf = number(top, "kerf_mm", "", 0.3, 0.0, 20.0)
    hands: Hands | None = None
    worth: Worth = "one"
    if by_hand:
        hands, worth = hands_from_json(top, kerf)
    within = MAX_COORDINATE_MM
    job = Job(
        metal=tuple(
            _metal(entry, f"metal[{i}]", by_hand=by_hand) for i, entry in enumerate(metals)
        ),
        pieces=tuple(_order(entry, f"pieces[{i}]", newer=newer) for i, entry in enumerate(kinds)),
        kerf_mm=kerf,
        saw_cost_per_mm=number(top, "saw_cost_per_mm", "", 0.002, 0.0, 1e6),
        scrap_worth=number(top, "scrap_worth", "", 0.1, 0.0, 1.0),
        offcut_min_width_mm=number(top, "offcut_min_width_mm", "", 12.0, 0.0, 10_000.0),
        offcut_min_area_mm2=number(top, "offcut_min_area_mm2", "", 600.0, 0.0, 1e10),
        goal=goal,
        edge_margin_mm=number(
            top, "edge_margin_mm", "", MARGIN_BY_HAND_MM if by_hand else 0.0, 0.0, 100.0
        ),
        hands=hands,
        worth=worth,
        fixed=placements_from_json(top, "fixed", most=MAX_COPIES, within_mm=within)
        if by_hand
        else (),
        start=placements_from_json(top, "start", most=MAX_COPIES, within_mm=within)
        if by_hand
        else (),
        parting=parting_from_json(top) if by_hand else None,
    )
    _unique([metal.id for metal in job.metal], "metal")
    _unique([wanted.id for wanted in job.pieces], "pieces")
    if job.copies > MAX_COPIES:
        raise JobError("pieces", f"{job.copies} pieces in all; {MAX_COPIES} is the most")
    vertices = sum(int(shapely.get_num_coordinates(m.outline)) for m in job.metal)
    vertices += sum(o.count * int(shapely.get_num_coordinates(o.outline)) for o in job.pieces)
    if vertices > MAX_TOTAL_VERTICES:
        raise JobError(
            "job",
            f"{vertices} vertices in all copies together; {MAX_TOTAL_VERTICES} is the most; "
            "simplify first",
        )
    check_known(job, job.fixed, "fixed")
    check_known(job, job.start, "start")
    check_on_metal(job)
    check_strip(job)
    return job


def job_to_json(job: Job) -> dict[str, Any]:
    """The JSON form of a job, with every default of its version written out."""
    by_hand = job.hands is not None
    newer = by_hand or job.edge_margin_mm > 0.0
    newer = newer or any(wanted.grain_deg is not None for wanted in job.pieces)
    return (
        {
            "version": HANDS_VERSION if by_hand else MORE_VERSION if newer else VERSION,
            "kerf_mm": job.kerf_mm,
            "saw_cost_per_mm": job.saw_cost_per_mm,
            "scrap_worth": job.scrap_worth,
            "offcut_min_width_mm": job.offcut_min_width_mm,
            "offcut_min_area_mm2": job.offcut_min_area_mm2,
            "metal": [
                {
                    "id": metal.id,
                    "outline": to_wkt(metal.outline),
                    "price_per_mm2": metal.price_per_mm2,
                    "clean_edges": metal.clean_edges,
                    "grain_deg": metal.grain_deg,
                }
                | ({} if metal.rough_edges is None else {"rough_edges": to_wkt(metal.rough_edges)})
                for metal in job.metal
            ],
            "pieces": [
                {
                    "id": wanted.id,
                    "outline": to_wkt(wanted.outline),
                    "count": wanted.count,
                    "turns_deg": None if wanted.turns_deg is None else list(wanted.turns_deg),
                    "may_mirror": wanted.may_mirror,
                    "group": wanted.group,
                }
                | ({"grain_deg": wanted.grain_deg} if newer else {})
                for wanted in job.pieces
            ],
            "goal": job.goal,
        }
        | ({"edge_margin_mm": job.edge_margin_mm} if newer else {})
        | hands_to_json(job)
    )


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The JSON form of a plan, as `place_pieces` prints it."""
    return {
        "version": HANDS_VERSION if plan.by_hand else VERSION,
        "status": plan.status,
        "placements": [placement_to_json(p) for p in plan.placements],
        "unplaced": [{"piece": u.piece, "copy": u.copy, "why": u.why} for u in plan.unplaced],
        "measures": measures_to_json(plan.measures, by_hand=plan.by_hand),
        "offcuts": [
            {"metal": o.metal, "outline": to_wkt(o.outline), "worth": round(o.worth, 6)}
            for o in plan.offcuts
        ],
        "seed": plan.seed,
        "seconds": round(plan.seconds, 3),
        "rounds": plan.rounds,
    } | (
        {"cuts": cuts_to_json(plan.cuts), "blanks": blanks_to_json(plan.blanks)}
        if plan.by_hand
        else {}
    )


def measures_to_json(measures: Measures, *, by_hand: bool = True) -> dict[str, Any]:
    """The figures of a plan, to a fraction that nobody can measure; those of version 1.2 have
    the length of shear cuts too."""
    return {
        "piece_area_mm2": round(measures.piece_area_mm2, 4),
        "consumed_mm2": round(measures.consumed_mm2, 4),
        "kept_mm2": round(measures.kept_mm2, 4),
        "scrap_mm2": round(measures.scrap_mm2, 4),
        "largest_offcut_mm2": round(measures.largest_offcut_mm2, 4),
        "largest_rectangle_mm": [round(side, 3) for side in measures.largest_rectangle_mm],
        "saw_line_mm": round(measures.saw_line_mm, 4),
        "shared_line_mm": round(measures.shared_line_mm, 4),
        "free_edge_mm": round(measures.free_edge_mm, 4),
        "strip_length_mm": round(measures.strip_length_mm, 6),
        "cost": round(measures.cost, 6),
    } | ({"cut_line_mm": round(measures.cut_line_mm, 4)} if by_hand else {})


def plan_from_json(data: Mapping[str, Any]) -> Plan:
    """A plan as `plan_to_json` wrote it. For our own stored plans, not for strangers' input."""
    measures = dict(data["measures"])
    width, height = measures.pop("largest_rectangle_mm")
    return Plan(
        placements=tuple(Placement(**entry) for entry in data["placements"]),
        unplaced=tuple(Unplaced(**entry) for entry in data["unplaced"]),
        measures=Measures(largest_rectangle_mm=(width, height), **measures),
        offcuts=tuple(
            Offcut(entry["metal"], _as_polygon(wkt.loads(entry["outline"])), entry["worth"])
            for entry in data["offcuts"]
        ),
        seed=data["seed"],
        seconds=data["seconds"],
        rounds=data["rounds"],
        by_hand=data.get("version") == HANDS_VERSION,
        cuts=cuts_from_json(data),
        blanks=blanks_from_json(data.get("blanks", ())),
    )


def layout_from_json(data: object) -> tuple[tuple[Placement, ...], tuple[Cut, ...]]:
    """The placements and parting cuts of anybody's plan (parsed JSON), half-made ones too.

    Only `placements` is wanted, and `cuts` are read where there are any; what else a plan says of
    itself is passed over, since the judge finds it anew. Whether the job has the pieces and the
    metal that it names, and whether a piece can lie where the numbers say, is for the judge to
    say. Raises JobError naming the first field that is unusable.
    """
    top = mapping(data, "plan")
    version = top.get("version", VERSION)
    if isinstance(version, bool) or version not in (VERSION, MORE_VERSION, HANDS_VERSION):
        raise JobError(
            "version",
            f"only versions {VERSION}, {MORE_VERSION} and {HANDS_VERSION} are understood",
        )
    listed(top, "placements", MAX_PLACEMENTS)
    laid = placements_from_json(top, "placements", most=MAX_PLACEMENTS, within_mm=None)
    return laid, cuts_from_json(top)


def _as_polygon(geometry: Any) -> Polygon:
    if not isinstance(geometry, Polygon):
        raise TypeError("an offcut is one polygon")
    return geometry


def _metal(entry: object, where: str, *, by_hand: bool) -> Stock:
    data = mapping(entry, where)
    known = "id outline price_per_mm2 clean_edges grain_deg"
    only(data, where, f"{known} rough_edges" if by_hand else known)
    outline = _outline(data, where, may_have_parts=True)
    return Stock(
        id=_id(data, where),
        outline=outline,
        price_per_mm2=number(data, "price_per_mm2", where, 0.0, 0.0, 1e6),
        clean_edges=flag(data, "clean_edges", where, default=True),
        grain_deg=_grain(data, where),
        rough_edges=rough_edges_of(data, where, outline) if by_hand else None,
    )


def _grain(data: Mapping[str, Any], where: str) -> float | None:
    if data.get("grain_deg") is None:
        return None
    return number(data, "grain_deg", where, 0.0, -1e6, 1e6)


def _order(entry: object, where: str, *, newer: bool) -> Wanted:
    data = mapping(entry, where)
    known = "id outline count turns_deg may_mirror group"
    only(data, where, f"{known} grain_deg" if newer else known)
    outline = _outline(data, where, may_have_parts=False)
    assert isinstance(outline, Polygon)
    count = data.get("count", 1)
    if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= MAX_COPIES:
        raise JobError(f"{where}.count", f"a whole number from 0 to {MAX_COPIES} is wanted")
    group = data.get("group")
    if group is not None and not (isinstance(group, str) and len(group) <= 200):
        raise JobError(f"{where}.group", "a text of at most 200 characters is wanted, or null")
    return Wanted(
        id=_id(data, where),
        outline=outline,
        count=count,
        turns_deg=_turns(data.get("turns_deg"), f"{where}.turns_deg"),
        may_mirror=flag(data, "may_mirror", where, default=False),
        group=group,
        grain_deg=_grain(data, where),
    )


def _turns(value: object, where: str) -> tuple[float, ...] | None:
    if value is None:
        return None
    if not isinstance(value, list) or not 1 <= len(value) <= MAX_TURNS:
        raise JobError(where, f"null (any turn) or a list of 1 to {MAX_TURNS} angles is wanted")
    return tuple(
        finite(turn, f"{where}[{i}]", -100_000.0, 100_000.0) for i, turn in enumerate(value)
    )


def _outline(
    data: Mapping[str, Any], where: str, *, may_have_parts: bool
) -> Polygon | MultiPolygon:
    field = f"{where}.outline"
    text = data.get("outline")
    if not isinstance(text, str):
        raise JobError(field, "well-known text such as POLYGON ((0 0, 9 0, 9 9, 0 0)) is wanted")
    if len(text) > MAX_TEXT:
        raise JobError(field, f"{len(text)} characters; {MAX_TEXT} is the most")
    try:
        with np.errstate(all="ignore"):  # 1e400 and nan are found out below
            shape = shapely.from_wkt(text)
    except (ShapelyError, ValueError, TypeError):
        raise JobError(field, "not well-known text that can be read") from None
    kinds = (Polygon, MultiPolygon) if may_have_parts else (Polygon,)
    if not isinstance(shape, kinds):
        wanted = "a POLYGON or MULTIPOLYGON" if may_have_parts else "a POLYGON"
        raise JobError(field, f"{wanted} is wanted")
    shape = shapely.force_2d(shape)
    count = shapely.get_num_coordinates(shape)
    if count > MAX_VERTICES:
        raise JobError(field, f"{count} vertices; {MAX_VERTICES} is the most; simplify it first")
    if shape.is_empty:
        raise JobError(field, "the outline is empty")
    coords = shapely.get_coordinates(shape)
    if not (np.isfinite(coords).all() and np.abs(coords).max() <= MAX_COORDINATE_MM):
        raise JobError(field, f"coordinates must be numbers within ±{MAX_COORDINATE_MM:.0f} mm")
    if not shape.is_valid:
        raise JobError(field, f"the outline is faulty: {shapely.is_valid_reason(shape)}")
    if shape.area < MIN_PIECE_AREA_MM2:
        raise JobError(field, f"the outline has hardly any area (< {MIN_PIECE_AREA_MM2} mm²)")
    return shape


def _id(data: Mapping[str, Any], where: str) -> str:
    value = data.get("id")
    if not isinstance(value, str) or not 1 <= len(value) <= 200:
        raise JobError(f"{where}.id", "a text of 1 to 200 characters is wanted")
    return value


def _unique(ids: Sequence[str], where: str) -> None:
    seen: set[str] = set()
    for name in ids:
        if name in seen:
            raise JobError(where, f'the id "{name[:60]}" occurs twice')
        seen.add(name)
