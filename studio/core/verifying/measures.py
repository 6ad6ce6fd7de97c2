"""What a plan consumes, keeps, saws and costs (studio/core/verifying/README.md, "What is best")."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import common, united, without
from studio.core.cutting.job import Cut, Job, Measures, Offcut, Placement, Stock
from studio.core.verifying.cuts import outlines_of, settle
from studio.core.verifying.kept import Kept
from studio.core.verifying.part_metal import code_of
from studio.core.verifying.parted.grounds import grounds_of, shares_of_cuts
from studio.core.verifying.parted.tree import is_sawn, parted_of
from studio.core.verifying.rectangles import Rectangle, largest_rectangle
from studio.core.verifying.saw_lines import free_stretches, shared_stretches

FINGERS_WORTH = 0.6
"""What metal outside an offcut's largest rectangle is worth, against metal inside it."""

SECOND_WORTH = 0.85
"""What metal inside the second rectangle is worth, where a job asks for two."""

SIMPLIFY_MM = 0.01
GRID_MM = 1e-6
ROUNDING_MM2 = 0.01  # more than rounding adds to any area
TOUCH_MM = 0.001
"""Pieces further apart than this, each grown by the kerf, need not be united."""
NECK_MM = 0.05
"""Nothing hangs together by less than twice this, however narrow an offcut may be: parts that
touch in one point are two parts."""


@dataclass(frozen=True, slots=True)
class Leftover:
    """What pieces leave of a stock piece: the metal without the pieces, each grown by one kerf.

    `middles` is where in `metal` the middle of a disc may be that has to pass through offcuts.
    """

    metal: BaseGeometry
    middles: BaseGeometry


def measure(
    job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> tuple[Measures, tuple[Offcut, ...]]:
    """The figures of these placements, and the offcuts that they leave.

    Parameters
    ----------
    job
        What was asked for: outlines in mm, prices per mm², sawing per mm, least offcuts.
    placements
        Valid ones (see `faults`), all of the job's or some.
    cuts
        Those that part the metal, in the order of cutting; passed over where the job does not
        part it.

    Returns
    -------
    Measures
        Lengths in mm, areas in mm², `cost` in the currency of the prices. Sums run over the
        stock pieces that are touched, by pieces or by cuts; area is conserved exactly: metal
        touched = pieces + kept + scrap, where scrap holds the kerf, that of saw cuts too.
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
    return measure_of(job, placements, Kept(), cuts)


def measure_of(
    job: Job, placements: Sequence[Placement], kept: Kept, cuts: Sequence[Cut] = ()
) -> tuple[Measures, tuple[Offcut, ...]]:
    """The same as `measure`, with what is `kept` from the answer before."""
    laid: dict[str, list[Placement]] = {}
    for placement in placements:
        laid.setdefault(placement.metal, []).append(placement)
    pieces = consumed = kept_area = scrap = cost = 0.0
    saw_line = shared = free = cut_line = 0.0
    offcuts: list[Offcut] = []
    widest = Rectangle(0.0, 0.0, Polygon())
    for metal in job.metal:
        parted = parted_of(job, metal, cuts, kept)
        grounds = grounds_of(job, parted, laid.get(metal.id, ()), kept)
        if not grounds:
            continue
        own_pieces = own_kept = own_worth = own_saw = own_shared = own_free = 0.0
        for ground in grounds:
            part, own = ground.metal, ground.pieces
            outlines = outlines_of(job, own, kept)
            sawn, once, spared = _sawn(job, part, own, outlines, kept)
            own_saw, own_shared, own_free = own_saw + sawn, own_shared + once, own_free + spared
            for offcut, rectangle in kept.get(
                ("offcuts", part.id, *own), partial(_offcuts, job, part, own, kept)
            ):
                offcuts.append(offcut)
                own_kept += offcut.outline.area
                own_worth += offcut.worth
                if rectangle.area_mm2 > widest.area_mm2:
                    widest = rectangle
            own_pieces += sum(outline.area for outline in outlines)
        if parted.made and is_sawn(job):
            own_saw += parted.cuts_mm
        elif parted.made:
            cut_line += parted.cuts_mm
        own_consumed = metal.outline.area - own_kept
        own_scrap = own_consumed - own_pieces
        pieces += own_pieces
        kept_area += own_kept
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
            kept_mm2=kept_area,
            scrap_mm2=scrap,
            largest_offcut_mm2=max((o.outline.area for o in offcuts), default=0.0),
            largest_rectangle_mm=(widest.longer_mm, widest.shorter_mm),
            saw_line_mm=saw_line,
            shared_line_mm=shared,
            free_edge_mm=free,
            strip_length_mm=_strip_length(job, laid, kept),
            cost=cost,
            cut_line_mm=cut_line,
        ),
        tuple(offcuts),
    )


def _sawn(
    job: Job, metal: Stock, own: Sequence[Placement], outlines: Sequence[Polygon], kept: Kept
) -> tuple[float, float, float]:
    """Saw line, shared lines and free edges on one stock piece, or on one part of it, in mm."""
    if not own:
        return 0.0, 0.0, 0.0
    rims = sum(outline.length for outline in outlines)
    if job.hands is not None:
        cuts = settle(job, job.hands, metal, own, kept)
        saw = rims - cuts.free_mm - cuts.shared_mm - cuts.middle_mm
        return saw, cuts.shared_mm, cuts.free_mm
    shared = sum(s.line.length for s in shared_stretches(outlines, job.kerf_mm))
    free = 0.0
    if metal.clean_edges:
        free = sum(s.line.length for s in free_stretches(outlines, metal.parts))
    return rims - shared - free, shared, free


def sawn_by_group(
    job: Job, placements: Sequence[Placement], kept: Kept, cuts: Sequence[Cut] = ()
) -> dict[str, float]:
    """The saw line in mm by the job's groups; a piece without one counts for itself.

    A cut that frees two pieces counts half for each. Saw cuts that part a stock piece are shared
    by blank area among those whose blanks come out of it (`shares_of_cuts`).
    """
    found: dict[str, float] = {}
    for metal in job.metal:
        own = [p for p in placements if p.metal == metal.id]
        parted = parted_of(job, metal, cuts, kept)
        grounds = grounds_of(job, parted, own, kept)
        for ground in grounds:
            outlines = outlines_of(job, ground.pieces, kept)
            if job.hands is not None:
                spared = settle(job, job.hands, ground.metal, ground.pieces, kept).spared_mm()
            else:
                spared = _spared_mm(job, ground.metal, outlines)
            for p, outline, less in zip(ground.pieces, outlines, spared, strict=True):
                group = job.wanted_by_id[p.piece].group or p.piece
                found[group] = found.get(group, 0.0) + outline.length - less
        if parted.made and is_sawn(job):
            for group, share in shares_of_cuts(job, grounds).items():
                found[group] = found.get(group, 0.0) + share * parted.cuts_mm
    return found


def _spared_mm(job: Job, metal: Stock, outlines: Sequence[Polygon]) -> list[float]:
    """The same by the rules of versions 1 and 1.1."""
    spared = [0.0] * len(outlines)
    for free in free_stretches(outlines, metal.parts) if metal.clean_edges else ():
        spared[free.piece] += free.line.length
    for shared in shared_stretches(outlines, job.kerf_mm):
        for piece in (shared.piece, shared.other):
            spared[piece or 0] += shared.line.length / 2.0
    return spared


def leftover_of(job: Job, metal: Stock, own: Sequence[Placement], kept: Kept) -> Leftover:
    """What these placements, all that lie on the stock piece, leave of it."""
    return kept.get(("leftover", metal.id, *own), partial(_leftover, job, metal, own, kept))


def _leftover(job: Job, metal: Stock, own: Sequence[Placement], kept: Kept) -> Leftover:
    taken = [kept.get(("grown", p), partial(_grown, job, p, kept)) for p in own]
    # the order of corners, and so the last digits of versions 1 and 1.1, are those of one union
    gone = united(taken) if job.hands is None else _united_by_groups(own, taken, kept)
    left = without(metal.outline, gone)
    return Leftover(left, left.buffer(-offcut_radius_mm(job)))


def _offcuts(
    job: Job, metal: Stock, own: Sequence[Placement], kept: Kept
) -> list[tuple[Offcut, Rectangle]]:
    """What a stock piece leaves, each with its largest rectangle."""
    found = []
    for outline in _offcut_outlines(job, leftover_of(job, metal, own, kept)):
        weighed = kept.get(("worth", outline.wkb), partial(_worth_mm2, job, outline, kept))
        worth = metal.price_per_mm2 * weighed
        found.append((Offcut(code_of(metal), outline, worth), rectangle_in(outline, kept)))
    return found


def rectangle_in(outline: Polygon, kept: Kept) -> Rectangle:
    """The largest rectangle in an offcut, measured once."""
    return kept.get(("rectangle", outline.wkb), partial(largest_rectangle, outline))


def _grown(job: Job, p: Placement, kept: Kept) -> Polygon:
    """A piece as it lies, grown by one kerf."""
    grown = kept.get(
        ("grown", p.piece),
        lambda: grown_by_kerf(job.wanted_by_id[p.piece].outline, job.kerf_mm),
    )
    return p.lay(grown)


def _worth_mm2(job: Job, outline: Polygon, kept: Kept) -> float:
    """An offcut's area as its worth weighs it."""
    first = rectangle_in(outline, kept)
    inside = min(first.area_mm2, outline.area)
    if job.worth == "one":
        return float(inside + FINGERS_WORTH * (outline.area - inside))
    rest = polygons_of(without(outline, first.polygon))
    second = Rectangle(0.0, 0.0, Polygon())
    for part in sorted(rest, key=lambda polygon: -polygon.area):
        if part.area > second.area_mm2:  # a part is no smaller than a rectangle in it
            second = max(second, largest_rectangle(part), key=_area)
    more = 0.0
    if second.shorter_mm >= job.offcut_min_width_mm:
        more = min(second.area_mm2, outline.area - inside)
    return float(inside + SECOND_WORTH * more + FINGERS_WORTH * (outline.area - inside - more))


def _area(rectangle: Rectangle) -> float:
    return rectangle.area_mm2


def _united_by_groups(
    own: Sequence[Placement], taken: Sequence[Polygon], kept: Kept
) -> BaseGeometry:
    """What pieces take away, those that touch united: after a move only one group is another."""
    groups: list[list[int]] = []
    low, high = np.array(shapely.bounds(taken)).reshape(-1, 2, 2).transpose(1, 0, 2)
    numbers = kept.numbers(own)
    clear = (low[:, None] > high[None] + TOUCH_MM) | (low[None] > high[:, None] + TOUCH_MM)
    boxes = np.asarray((~clear).all(axis=2))
    for i in range(len(own)):
        joined, apart = [i], []
        for group in groups:
            beside = any(
                boxes[i, j]
                and kept.get(("touch", numbers[j], numbers[i]), partial(_touch, taken[j], taken[i]))
                for j in group
            )
            if beside:
                joined = [*group, *joined]
            else:
                apart.append(group)
        groups = [*apart, sorted(joined)]
    parts = []
    for group in groups:
        together = partial(united, [taken[k] for k in group])
        parts += polygons_of(kept.get(("united", *(numbers[k] for k in group)), together))
    return MultiPolygon(parts)


def _touch(one: Polygon, other: Polygon) -> bool:
    return bool(shapely.dwithin(one, other, TOUCH_MM))


def _offcut_outlines(job: Job, left: Leftover) -> list[Polygon]:
    """The parts of the leftover wide and large enough to go back to the rack, largest first.

    An offcut is a part of the leftover's opening by a disc as wide as the least useful offcut.
    """
    leftover = left.metal
    opened: BaseGeometry = left.middles.buffer(offcut_radius_mm(job))
    if job.hands is None:
        opened = common(opened, leftover)
    # By hand that is left to the end, where each part is cut to the leftover anyway: the opening
    # is never further out than the arrow of a chord of its rounding, too little to part anything.
    found = []
    for part in polygons_of(opened):
        small = job.offcut_min_area_mm2 - ROUNDING_MM2 - part.length * GRID_MM
        if part.area + 2.0 * part.length * SIMPLIFY_MM < small:
            continue  # nor is it large enough when it is made simpler
        plain = part.simplify(SIMPLIFY_MM)
        if plain.area < job.offcut_min_area_mm2 - ROUNDING_MM2 - plain.length * GRID_MM:
            continue  # what is inside the leftover, on the grid, is no larger
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


def _strip_length(job: Job, laid: dict[str, list[Placement]], kept: Kept) -> float:
    """Length used along x of the first metal: from its left end to the furthest piece."""
    if not job.metal or not laid.get(job.metal[0].id):
        return 0.0
    first = job.metal[0]
    furthest = max(outline.bounds[2] for outline in outlines_of(job, laid[first.id], kept))
    return float(furthest - first.outline.bounds[0])
