"""What a plan consumes, keeps, saws and costs (studio/core/verifying/README.md, "What is best")."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import MultiPolygon, Polygon

from studio.core.areas import common, united, without
from studio.core.cutting.job import Job, Measures, Offcut, Placement, Stock
from studio.core.verifying.rectangles import Rectangle, largest_rectangle
from studio.core.verifying.saw_lines import free_stretches, shared_stretches

FINGERS_WORTH = 0.6
"""What metal outside an offcut's largest rectangle is worth, against metal inside it."""

SIMPLIFY_MM = 0.01
GRID_MM = 1e-6
NECK_MM = 0.05
"""Nothing hangs together by less than twice this, however narrow an offcut may be: parts that
touch in one point are two parts."""


def measure(job: Job, placements: Sequence[Placement]) -> tuple[Measures, tuple[Offcut, ...]]:
    """The figures of these placements, and the offcuts that they leave.

    Parameters
    ----------
    job
        What was asked for: outlines in mm, prices per mm², sawing per mm, least offcuts.
    placements
        Valid ones (see `faults`), all of the job's or some.

    Returns
    -------
    Measures
        Lengths in mm, areas in mm², `cost` in the currency of the prices. Sums run over the
        stock pieces that are touched; area is conserved exactly: metal touched = pieces + kept +
        scrap, where scrap holds the kerf.
    tuple of Offcut
        What goes back to the rack, each with its worth.

    Raises
    ------
    KeyError
        A placement names a piece that the job does not know.

    Examples
    --------
    Two squares side by side in a corner of a sheet share one line, and three of their other
    sides lie on the sheet's own edges, where nothing is sawn:

    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Placement, Stock, Wanted
    >>> sheet = Stock("S1", box(0, 0, 100, 50), price_per_mm2=0.001)
    >>> job = Job((sheet,), (Wanted("a", box(0, 0, 20, 20), count=2),), kerf_mm=0.3)
    >>> laid = [Placement("a", k, "S1", False, 0.0, 20.3 * k, 0.0) for k in (0, 1)]
    >>> figures, offcuts = measure(job, laid)
    >>> round(figures.shared_line_mm, 3), round(figures.free_edge_mm, 3)
    (20.0, 60.0)
    >>> round(figures.saw_line_mm, 3)  # eight sides, less one shared and three free
    80.0
    >>> metal = figures.piece_area_mm2 + figures.kept_mm2 + figures.scrap_mm2
    >>> round(metal, 3) == sheet.outline.area, len(offcuts)
    (True, 1)
    """
    laid: dict[str, list[Polygon]] = {}
    taken: dict[str, list[Polygon]] = {}  # the same, grown by one kerf
    names = sorted({placement.piece for placement in placements})
    grown = {name: grown_by_kerf(job.wanted_by_id[name].outline, job.kerf_mm) for name in names}
    for placement in placements:
        outline = placement.lay(job.wanted_by_id[placement.piece].outline)
        laid.setdefault(placement.metal, []).append(outline)
        taken.setdefault(placement.metal, []).append(placement.lay(grown[placement.piece]))
    pieces = consumed = kept = scrap = cost = 0.0
    saw_line = shared = free = 0.0
    offcuts: list[Offcut] = []
    widest = Rectangle(0.0, 0.0, Polygon())
    for metal in job.metal:
        outlines = laid.get(metal.id)
        if not outlines:
            continue
        own_shared = sum(s.line.length for s in shared_stretches(outlines, job.kerf_mm))
        own_free = 0.0
        if metal.clean_edges:
            own_free = sum(s.line.length for s in free_stretches(outlines, metal.parts))
        own_saw = sum(outline.length for outline in outlines) - own_shared - own_free
        own_kept = own_worth = 0.0
        for outline in offcut_outlines(job, metal, taken[metal.id]):
            rectangle = largest_rectangle(outline)
            inside = min(rectangle.area_mm2, outline.area)
            worth = metal.price_per_mm2 * (inside + FINGERS_WORTH * (outline.area - inside))
            offcuts.append(Offcut(metal.id, outline, worth))
            own_kept += outline.area
            own_worth += worth
            if rectangle.area_mm2 > widest.area_mm2:
                widest = rectangle
        own_pieces = sum(outline.area for outline in outlines)
        own_consumed = metal.outline.area - own_kept
        own_scrap = own_consumed - own_pieces
        pieces += own_pieces
        kept += own_kept
        consumed += own_consumed
        scrap += own_scrap
        saw_line += own_saw
        shared += own_shared
        free += own_free
        cost += metal.price_per_mm2 * (metal.outline.area - job.scrap_worth * own_scrap)
        cost += job.saw_cost_per_mm * own_saw - own_worth
    return (
        Measures(
            piece_area_mm2=pieces,
            consumed_mm2=consumed,
            kept_mm2=kept,
            scrap_mm2=scrap,
            largest_offcut_mm2=max((o.outline.area for o in offcuts), default=0.0),
            largest_rectangle_mm=(widest.longer_mm, widest.shorter_mm),
            saw_line_mm=saw_line,
            shared_line_mm=shared,
            free_edge_mm=free,
            strip_length_mm=_strip_length(job, laid),
            cost=cost,
        ),
        tuple(offcuts),
    )


def offcut_outlines(job: Job, metal: Stock, taken: Sequence[Polygon]) -> list[Polygon]:
    """The parts of the leftover wide and large enough to go back to the rack, largest first.

    The leftover is the metal without `taken`, the pieces grown by one kerf; an offcut is a part
    of its opening by a disc as wide as the least useful offcut.
    """
    leftover = without(metal.outline, united(taken))
    radius = offcut_radius_mm(job)
    opened = common(leftover.buffer(-radius).buffer(radius), leftover)
    found = []
    for part in polygons_of(opened):
        plain = part.simplify(SIMPLIFY_MM)
        inside = polygons_of(common(plain, leftover))
        whole = on_grid(max(inside, key=lambda polygon: polygon.area, default=part))
        if whole.area >= job.offcut_min_area_mm2:
            found.append(whole)
    return sorted(found, key=lambda polygon: -polygon.area)


def on_grid(outline: Polygon) -> Polygon:
    """The outline as it is written down, to a nanometre: valid there too, and in one part."""
    parts = polygons_of(shapely.set_precision(outline, GRID_MM))
    return max(parts, key=lambda polygon: polygon.area, default=outline)


def offcut_radius_mm(job: Job) -> float:
    """Radius of the disc that has to pass through every offcut."""
    return max(job.offcut_min_width_mm / 2.0, NECK_MM)


def grown_by_kerf(outline: Polygon, kerf: float) -> Polygon:
    """The piece with the saw cut around it (and in its windows)."""
    grown = outline.buffer(kerf) if kerf > 0.0 else outline
    assert isinstance(grown, Polygon)
    return grown


def polygons_of(geometry: shapely.Geometry) -> list[Polygon]:
    """The areas in any geometry; its lines and points are left out."""
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    if isinstance(geometry, MultiPolygon):
        return list(geometry.geoms)
    return [p for part in getattr(geometry, "geoms", ()) for p in polygons_of(part)]


def _strip_length(job: Job, laid: dict[str, list[Polygon]]) -> float:
    """Length used along x of the first metal: from its left end to the furthest piece."""
    if not job.metal or not laid.get(job.metal[0].id):
        return 0.0
    first = job.metal[0]
    furthest = max(outline.bounds[2] for outline in laid[first.id])
    return float(furthest - first.outline.bounds[0])
