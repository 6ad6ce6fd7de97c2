"""Layouts that are there already: cuts between their groups, or word that there are none."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from studio.core.areas import united
from studio.core.cutting.job import Job, Placement
from studio.core.cutting.strictly import JobError

from .draft import Draft, Judged, judged, outlines_of
from .parts import Parts
from .separating import Separator

Laid = dict[str | None, list[Placement]]


def separate_fixed(base: Draft) -> None:
    """Cut between groups that stand on one stock piece already.

    Raises JobError where no cuts part them: nothing that stands may be moved, so there is no plan.
    """
    job, parting = base.job, base.parting
    for index, metal in enumerate(job.metal):
        fixed = _by_group(job, [p for p in job.fixed if p.metal == metal.id])
        if not fixed:
            continue
        lying = {name: _together(outlines_of(job, laid)) for name, laid in fixed.items()}
        stuck: Sequence[str | None] = ()
        for margin in (parting.margin_mm, 0.0):  # what stands may be nearer than the margin
            separator = Separator(base.of(index), lying, margin)
            parts = separator.separated()
            if parts is not None:
                _settle(base, index, parts, fixed, lying)
                break
            stuck = separator.stuck
        else:
            names = ", ".join(sorted("-" if name is None else name for name in stuck or fixed))
            raise JobError(
                "fixed", f"no straight cuts part what stands on {metal.id}: groups {names}"
            )


def begun(base: Draft) -> Judged | None:
    """The layout to begin from with cuts between its groups; None where there are no such cuts,
    or the judge finds a fault."""
    job, parting = base.job, base.parting
    draft = base.copy()
    lies = {(p.piece, p.copy) for p in draft.placements()}
    start = [p for p in job.start if (p.piece, p.copy) not in lies and p.is_finite]
    for index, metal in enumerate(job.metal):
        own = [p for p in (*draft.placements(), *start) if p.metal == metal.id]
        laid = _by_group(job, own)
        if not laid:
            continue
        lying = {name: _together(outlines_of(job, each)) for name, each in laid.items()}
        parts = Separator(Parts(job, parting, metal), lying, parting.margin_mm).separated()
        if parts is None:
            return None
        draft.laid = {key: each for key, each in draft.laid.items() if key[0] != index}
        _settle(draft, index, parts, laid, lying)
    lies = {(p.piece, p.copy) for p in draft.placements()}
    wanted = ((w.id, copy) for w in job.pieces for copy in range(w.count))
    return judged(draft, [copy for copy in wanted if copy not in lies])


def _by_group(job: Job, placements: Sequence[Placement]) -> Laid:
    found: Laid = {}
    for p in placements:
        found.setdefault(job.wanted_by_id[p.piece].group, []).append(p)
    return found


def _settle(
    draft: Draft, index: int, parts: Parts, laid: Laid, lying: dict[str | None, BaseGeometry]
) -> None:
    """Note on which part each group lies."""
    draft.parts[index] = parts
    for name, own in laid.items():
        spot = lying[name].representative_point()
        leaves = parts.leaves.items()
        number = next((n for n, part in leaves if part.region.intersects(spot)), None)
        if number is not None:
            draft.laid[index, number] = list(own)


def _together(outlines: Sequence[Polygon]) -> BaseGeometry:
    """All that lies there; that pieces of one group overlap matters to nobody here."""
    return united(outlines)
