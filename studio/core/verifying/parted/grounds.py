"""Which pieces lie on which part of which stock piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import shapely
from shapely.geometry import Polygon

from studio.core.areas import common, without
from studio.core.cutting.job import Blank, Cut, Job, Placement, Stock
from studio.core.verifying.cuts import outlines_of
from studio.core.verifying.fault import TOLERANCE_MM, thin
from studio.core.verifying.kept import Kept
from studio.core.verifying.part_metal import code_of, number_of
from studio.core.verifying.parted.dividing import Metal, polygons_in
from studio.core.verifying.parted.tree import Parted, parted_of, parting_of


@dataclass(frozen=True)
class Ground:
    """A stock piece, or a part of one, with the pieces that lie on it: what rules and measures
    look at by itself. `through` are those that lie over its edge, for a cut goes through them.

    Where nothing is parted every stock piece that carries pieces is one ground.
    """

    metal: Stock
    pieces: tuple[Placement, ...]
    through: frozenset[Placement] = frozenset()

    @property
    def code(self) -> str:
        """The id of the stock piece."""
        return code_of(self.metal)

    @property
    def part(self) -> int:
        """The number of the part, 0 for the stock piece itself."""
        return number_of(self.metal)


def parts_of(job: Job, metal_id: str, cuts: Sequence[Cut]) -> dict[int, Metal]:
    """The parts of a stock piece through which no cut goes, by number.

    Parameters
    ----------
    job
        Which says how metal is parted; where it does not, cuts are passed over.
    metal_id
        A stock piece of the job.
    cuts
        Those of all stock pieces, in the order of cutting. One that does not go through makes no
        parts.

    Returns
    -------
    dict
        Outlines in mm in their place on the stock piece, the kerf of saw cuts taken off. Part 0,
        the stock piece itself, where nothing is cut.

    Raises
    ------
    KeyError
        The job has no such metal.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Cut, Hands, Job, Parting, Stock
    >>> shear = Parting("shear", margin_mm=1.0, strip_least_mm=15.0)
    >>> job = Job((Stock("S1", box(0, 0, 90, 40)),), (), hands=Hands(1.0, 0.5), parting=shear)
    >>> {n: part.area for n, part in parts_of(job, "S1", [Cut("S1", 0, (30, 0), (30, 40))]).items()}
    {1: 1200.0, 2: 2400.0}
    """
    parted = parted_of(job, job.stock_by_id[metal_id], cuts, Kept())
    return {number: leaf.outline for number, leaf in parted.leaves.items()}


def blanks_of(
    job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()
) -> tuple[Blank, ...]:
    """What each group gets of the metal: the parts on which its pieces lie.

    Parameters
    ----------
    job, placements, cuts
        As for `faults`. Placements that name nothing of the job are passed over.

    Returns
    -------
    tuple of Blank
        By stock piece and part; none where the job does not part its metal. A part with pieces of
        two groups, which is a fault, is a blank of both, and one that is not of one piece, which
        is a fault too, none.
    """
    return blanks_on(job, placements, cuts, Kept())


def blanks_on(
    job: Job, placements: Sequence[Placement], cuts: Sequence[Cut], kept: Kept
) -> tuple[Blank, ...]:
    """The same with what is `kept` from the answer before."""
    if parting_of(job) is None:
        return ()
    found: list[Blank] = []
    for ground in grounds(job, placements, cuts, kept):
        polygons = polygons_in(ground.metal.outline)
        if len(polygons) == 1:
            groups = groups_on(job, ground.pieces)
            found.extend(Blank(ground.code, ground.part, group, polygons[0]) for group in groups)
    return tuple(found)


def grounds(
    job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = (), kept: Kept | None = None
) -> tuple[Ground, ...]:
    """Every stock piece that pieces or cuts touch, part by part, with the pieces on each part.

    Parameters
    ----------
    job, placements, cuts
        As for `faults`. Placements that name nothing of the job are passed over, and so are cuts
        where the job does not part its metal.
    kept
        What is kept from the answer before, where the judge has just been asked.

    Returns
    -------
    tuple of Ground
        By stock piece and part. A part without pieces is a leftover. The metal of a ground may be
        given to `cuts`, which then knows which of its edges parting has made.
    """
    known = kept or Kept()
    found: list[Ground] = []
    for stock in job.metal:
        own = [
            p
            for p in placements
            if p.metal == stock.id and p.is_finite and p.piece in job.wanted_by_id
        ]
        found += grounds_of(job, parted_of(job, stock, cuts, known), own, known)
    return tuple(found)


def groups_on(job: Job, pieces: Sequence[Placement]) -> dict[str | None, list[Placement]]:
    """The pieces by their groups, in the order in which they come; None has those without."""
    found: dict[str | None, list[Placement]] = {}
    for p in pieces:
        found.setdefault(job.wanted_by_id[p.piece].group, []).append(p)
    return found


def grounds_of(job: Job, parted: Parted, own: Sequence[Placement], kept: Kept) -> list[Ground]:
    """The parts of one stock piece, each with those of its pieces that lie on it; parts without
    any too, if the stock piece is cut.

    A piece belongs to the part that holds it, else to the one that holds most of it, else to the
    nearest.
    """
    leaves = list(parted.leaves.values())
    if not parted.made:
        return [Ground(parted.metal, tuple(own))] if own else []
    on: list[list[Placement]] = [[] for _ in leaves]
    through: list[set[Placement]] = [set() for _ in leaves]
    bounds = [leaf.outline.bounds for leaf in leaves]
    for p, outline in zip(own, outlines_of(job, own, kept), strict=True):
        near = [k for k, box in enumerate(bounds) if _may_hold(box, outline)]
        held = next(
            (
                k
                for k in near
                if kept.get(("holds", leaves[k].id, p), partial(_holds, leaves[k], outline))
            ),
            None,
        )
        if held is None:
            held = kept.get(
                ("most on", p, *(leaf.id for leaf in leaves)), partial(_most_on, leaves, outline)
            )
            through[held].add(p)
        on[held].append(p)
    return [
        Ground(leaf, tuple(pieces), frozenset(over))
        for leaf, pieces, over in zip(leaves, on, through, strict=True)
    ]


def shares_of_cuts(job: Job, grounds: Sequence[Ground]) -> dict[str, float]:
    """How the cuts through a stock piece are shared by blank area: 1 in all, by group; a piece
    without one counts for itself, by its own area. Nobody has a share where nothing lies."""
    areas: dict[str, float] = {}
    for ground in grounds:
        groups = groups_on(job, ground.pieces)
        for group, pieces in groups.items():
            area = ground.metal.outline.area / len(groups)
            own = [job.wanted_by_id[p.piece].outline.area for p in pieces]
            for p, size in zip(pieces, own, strict=True):
                name = group or p.piece
                areas[name] = areas.get(name, 0.0) + area * size / sum(own)
    whole = sum(areas.values())
    return {name: area / whole for name, area in areas.items()}


def _may_hold(box: tuple[float, float, float, float], outline: Polygon) -> bool:
    x0, y0, x1, y1 = outline.bounds
    slack = 10.0 * TOLERANCE_MM
    return (
        x0 >= box[0] - slack
        and y0 >= box[1] - slack
        and x1 <= box[2] + slack
        and y1 <= box[3] + slack
    )


def _holds(leaf: Stock, outline: Polygon) -> bool:
    """Whether a piece lies within one connected part of a part, as it must within metal."""
    return any(
        part.covers(outline) or (part.intersects(outline) and thin(without(outline, part)))
        for part in leaf.parts
    )


def _most_on(leaves: Sequence[Stock], outline: Polygon) -> int:
    shares = [
        common(leaf.outline, outline).area if leaf.outline.intersects(outline) else 0.0
        for leaf in leaves
    ]
    if max(shares) > 0.0:
        return shares.index(max(shares))
    away = [float(shapely.distance(leaf.outline, outline)) for leaf in leaves]
    return away.index(min(away))
