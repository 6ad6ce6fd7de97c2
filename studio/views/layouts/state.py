"""Everything that the layout table shows of a layout, for its script and for its plain parts.

Millimetres, y upwards. Straight runs and clean edges are the judge's own, so that whoever draws or
snaps need not find them again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any
from zlib import crc32

import numpy.typing as npt
import shapely
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _
from shapely.geometry import LineString, Polygon

from classroom.models import School, User
from studio.core.cutting import Job, Placement, Stock, Wanted
from studio.core.cutting.groups import project_of
from studio.core.picturing.edges import clean_lines, rough_lines
from studio.core.picturing.plan import labels_of_pieces
from studio.core.verifying import Judgement, Shown
from studio.core.verifying.cuts import metal_edges
from studio.core.verifying.kept import Kept
from studio.core.verifying.sides import sides_of
from studio.models import Layout
from studio.queries.layouts import project_names
from studio.running.layouts import judging
from studio.steps.layouts import measured
from studio.steps.layouts.may_lay import may_change
from studio.views.patterns.correcting_state import unit_words

from .faults import Labels, fault_rows
from .figures import figures_of
from .parting import cut_gap_mm, parting_state

PLACES = 4  # of a point's millimetres on their way to the script
RUN_PLACES = 6


@dataclass(frozen=True, slots=True)
class Looked:
    """A layout as it stands, judged."""

    layout: Layout
    placements: tuple[Placement, ...]
    judgement: Judgement
    shown: Shown
    figures: Mapping[str, Any]
    before: Mapping[str, Any] | None
    labels: Labels
    parting: Mapping[str, Any] | None = None

    @property
    def job(self) -> Job:
        return self.layout.asked


def look(layout: Layout) -> Looked:
    """Judge a layout, and keep its figures with it. Raises Busy."""
    placements = layout.laid
    judgement, shown = judging.look_at_metal(layout, layout.asked, placements, layout.parted)
    figures = measured.measured(layout, placements, judgement)
    before = measured.keep(layout, figures)
    labels = labels_of_pieces(layout.asked)
    parting = parting_state(layout, placements)
    return Looked(layout, placements, judgement, shown, figures, before, labels, parting)


def whole_state(now: Looked, user: User) -> dict[str, Any]:
    """For the script that begins with nothing."""
    return table_state(
        now,
        user.school,
        urls=urls_of(now.layout),
        names=_names(now.layout),
        changes=may_change(now.layout, user),
    )


def table_state(
    now: Looked,
    school: School,
    *,
    urls: Mapping[str, str],
    names: Mapping[str, str],
    changes: bool,
) -> dict[str, Any]:
    """As `whole_state`, for a table at any addresses: `names` of pieces by id, and whether the
    person `changes` what lies there."""
    job = now.job
    return state_after(now, school) | {
        "urls": dict(urls),
        "unit": unit_words(school),
        "may": {
            "change": changes,
            "mirror": any(wanted.may_mirror for wanted in job.pieces),
        },
        "rules": {
            "kerf_mm": job.kerf_mm,
            "gap_mm": job.gap_mm,
            "shared_mm": job.kerf_mm if job.hands is None else job.hands.shared_mm,
            "straight_min_mm": 0.0 if job.hands is None else job.hands.straight_min_mm,
            "edge_gap_mm": job.edge_gap_mm,
            "cut_gap_mm": cut_gap_mm(job),
        },
        "metal": [_metal(job, metal) for metal in job.metal],
        "pieces": pieces_of(job, names, now.labels),
        "fixed": [[p.piece, p.copy] for p in job.fixed],
    }


def state_after(now: Looked, school: School) -> dict[str, Any]:
    """For the script that knows pieces and metal: where all lie, and what the judge says."""
    layout = now.layout
    return {
        "version": layout.version,
        "placements": layout.placements,
        "pinned": layout.pinned,
        "undo": len(layout.past),
        "redo": len(layout.future),
        "stock": stamp_of(layout),
        "parting": now.parting,
        "judged": judged_state(now, school),
    }


def stamp_of(layout: Layout) -> int:
    """Another number whenever it is laid out on other metal: then a script begins anew."""
    return crc32(json.dumps(layout.job["metal"], sort_keys=True).encode())


def judged_state(now: Looked, school: School) -> dict[str, Any]:
    strip = now.shown.strip
    return {
        "faults": fault_rows(now.judgement.faults, now.labels, school.units),
        "missing": missing_of(now.job, now.placements),
        "figures": figures_of(now.layout, now.figures, now.before, school),
        "strip": None
        if strip is None
        else {"metal": strip[0], "ring": _ring(strip[1].exterior.coords)},
        "shared": [[*_rounded(line), metal] for metal, line in now.shown.shared],
        "free": [[*_rounded(line), metal] for metal, line in now.shown.free],
    }


def missing_of(job: Job, placements: Iterable[Placement]) -> list[dict[str, Any]]:
    """The copies of each piece that are still in the tray."""
    laid = {(p.piece, p.copy) for p in placements if p.metal in job.stock_by_id}
    rows = [
        {"piece": w.id, "copies": [c for c in range(w.count) if (w.id, c) not in laid]}
        for w in job.pieces
    ]
    return [row for row in rows if row["copies"]]


ADDRESSES = {
    "page": "layout",
    "change": "layout_change",
    "undo": "layout_undo",
    "redo": "layout_redo",
    "tries": "layout_tries",
    "pin": "layout_pin",
    "place": "layout_place",
    "cuts": "layout_cuts",
    "stock": "layout_stock",
    "server": "layout_server",
    "compare": "layout_compare",
}


def urls_of(layout: Layout) -> dict[str, str]:
    found = {}
    for name, address in ADDRESSES.items():
        try:
            found[name] = reverse(address, args=[layout.pk])
        except NoReverseMatch:  # what a house leaves out is not offered
            continue
    return found | {"back": back_of(layout)}


def back_of(layout: Layout) -> str:
    """The page of what is laid out."""
    if layout.plan_id is not None:
        return reverse("plan", args=[layout.plan_id])
    return reverse("project", args=[layout.project_id])


def pieces_of(job: Job, names: Mapping[str, str], labels: Labels) -> list[dict[str, Any]]:
    """The kinds of pieces. `letter` is what the first copy is called, less its number where
    copies are counted; `labels` what each copy is called."""
    return [_piece(job, wanted, names[wanted.id], labels) for wanted in job.pieces]


def _piece(job: Job, wanted: Wanted, name: str, labels: Labels) -> dict[str, Any]:
    own = [labels[wanted.id, copy] for copy in range(wanted.count)]
    least = 0.0 if job.hands is None else job.hands.straight_min_mm
    mirrored = sides_of(wanted.outline, least, mirror=True).runs if wanted.may_mirror else None
    return {
        "id": wanted.id,
        "name": name,
        "letter": (own or ["?"])[0].rstrip("0123456789") if wanted.count > 1 else (own or ["?"])[0],
        "labels": own,
        "count": wanted.count,
        "rings": _rings(wanted.outline),
        "runs": _runs(sides_of(wanted.outline, least).runs),
        "mirrored_runs": [] if mirrored is None else _runs(mirrored),
        "may_mirror": wanted.may_mirror,
        "turns_deg": None if wanted.turns_deg is None else list(wanted.turns_deg),
        "grain_deg": wanted.grain_deg,
        "group": wanted.group,
    }


def _names(layout: Layout) -> dict[str, str]:
    """What people call each kind of piece; in a plan with its project."""
    job = layout.asked
    of_plan: dict[int, str] = {}
    if layout.plan_id is not None:
        pks = {project_of(wanted.group) for wanted in job.pieces if wanted.group}
        of_plan = project_names(pks)
    names = {}
    for wanted in job.pieces:
        piece = _("piece %(number)s") % {"number": wanted.id.rpartition("/")[2]}
        owner = of_plan.get(project_of(wanted.group)) if of_plan and wanted.group else None
        names[wanted.id] = f"{owner}, {piece}" if owner else piece
    return names


def _metal(job: Job, metal: Stock) -> dict[str, Any]:
    found: dict[str, Any] = {
        "id": metal.id,
        "name": metal.id,
        "rings": [_rings(part) for part in metal.parts],
        "grain_deg": metal.grain_deg,
    }
    clean: Iterable[LineString]
    rough: Iterable[LineString]
    if job.hands is not None:
        edges = metal_edges(job, job.hands, metal, Kept())
        clean, rough, runs = edges.clean.geoms, edges.rough.geoms, edges.runs
    else:
        clean, rough = clean_lines(metal).geoms, rough_lines(metal).geoms
        runs = sides_of(metal.parts[0], 0.0).runs[: None if metal.clean_edges else 0]
    return found | {
        "clean": _segments(clean),
        "clean_runs": _runs(runs),
        "rough": _segments(rough),
    }


def _segments(lines: Iterable[LineString]) -> list[list[float]]:
    found: list[list[float]] = []
    for line in lines:
        points = shapely.get_coordinates(line).tolist()
        found += [
            [round(value, PLACES) for value in (*one, *other)] for one, other in pairwise(points)
        ]
    return found


def _rings(polygon: Polygon) -> list[list[list[float]]]:
    return [_ring(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]


def _ring(coords: Iterable[tuple[float, ...]]) -> list[list[float]]:
    """The corners of a ring, the first not told again at its end."""
    points = [[round(point[0], PLACES), round(point[1], PLACES)] for point in coords]
    return points[:-1] if len(points) > 1 and points[0] == points[-1] else points


def _runs(runs: npt.NDArray[Any]) -> list[list[float]]:
    return [[round(value, RUN_PLACES) for value in run] for run in runs.tolist()]


def _rounded(line: Iterable[float]) -> list[float]:
    return [round(value, PLACES) for value in line]
