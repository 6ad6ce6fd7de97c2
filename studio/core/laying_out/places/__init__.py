"""Places to choose for a piece without dragging: in a corner, along an edge, beside a piece, free.

For a place there are candidates: a straight run of the piece laid on the edge or on the shared
line, longest run first, else the piece at its gap; from each the piece slides along until the
judge has no fault to find. The judge alone decides; what is looked at before it only spares it
work. Lengths in mm, angles in degrees anticlockwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from studio.core.cutting.job import Job, Placement

from .kinds import At, Beside, Corner, Edge, Found, Free, Place
from .metal_lines import corners_of, edges_of, middle_of
from .trying import Table
from .ways import candidates

__all__ = [
    "At",
    "Beside",
    "Corner",
    "Edge",
    "Found",
    "Free",
    "Place",
    "corners_of",
    "edges_of",
    "find",
    "turned",
]

QUARTERS: Final = (0.0, 90.0, 180.0, 270.0)


def find(
    job: Job,
    placements: Sequence[Placement],
    piece: str,
    copy: int,
    place: Place,
    *,
    mirror: bool = False,
    turn_deg: float | None = None,
) -> Found | None:
    """Lay one copy of a piece at a chosen place.

    Parameters
    ----------
    job, placements
        What is laid by, and where everything lies; where this copy lies now makes no difference.
    mirror
        The piece turned over, where its pattern may be; a piece that finds no room as it is
        is tried the other way too, where it may be.
    turn_deg
        Where the place itself asks for no turn: at this one only. None: at quarter turns.

    Returns
    -------
    Found
        A placement without fault where one is found, else the one nearest to the place, with its
        faults. None where the place is not there, or no place at all is free (`Free`).

    Raises
    ------
    KeyError
        The job does not know the piece.
    """
    table = Table(job, placements, piece, copy)
    if isinstance(place, At):
        return table.at(place, mirror=mirror and table.wanted.may_mirror)
    ways = [mirror and table.wanted.may_mirror]
    if table.wanted.may_mirror:
        ways.append(not ways[0])
    turns = QUARTERS if turn_deg is None else (turn_deg,)
    nearest: Found | None = None
    for way in ways:
        for row in candidates(table, place, way, turns):
            found = table.first_good(row)
            if found is not None and not found.faults:
                return found
            nearest = nearest or found
    return None if isinstance(place, Free) else nearest


def turned(job: Job, lies: Placement, by_deg: float) -> Placement:
    """A piece turned about the middle of the box around it."""
    wanted = job.wanted_by_id[lies.piece]
    before = middle_of(lies.lay(wanted.outline))
    turn = (lies.turn_deg + by_deg) % 360.0
    after = middle_of(replace(lies, turn_deg=turn).lay(wanted.outline))
    return replace(
        lies,
        turn_deg=turn,
        x_mm=lies.x_mm + before[0] - after[0],
        y_mm=lies.y_mm + before[1] - after[1],
    )
