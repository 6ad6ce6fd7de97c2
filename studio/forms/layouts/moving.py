"""One piece laid without dragging: what a plain form asks for, and where it comes to lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from django.utils.translation import gettext as _

from classroom.figures.units import LengthUnit
from classroom.refusals import Refused
from studio.core.cutting import Job, Placement
from studio.core.laying_out import places
from studio.steps.layouts.change import Move

from .changing import degrees, piece_of, signed_length
from .placing import place_asked

QUARTER_TURNS: Final = {"90": 90.0, "-90": -90.0, "180": 180.0}


def move_asked(
    sent: Mapping[str, str], unit: LengthUnit, job: Job, placements: Sequence[Placement]
) -> Move:
    """`do` says how: place, at (numbers in `unit`), turn, mirror, tray. Raises Refused."""
    piece, copy = piece_of(sent)
    if piece not in job.wanted_by_id:
        raise Refused(_("Choose a piece first."))
    lies = next((p for p in placements if (p.piece, p.copy) == (piece, copy)), None)
    do = sent.get("do", "")
    to: Placement | None
    if do == "tray":
        to = None
    elif do == "place":
        found = places.find(
            job,
            placements,
            piece,
            copy,
            place_asked(sent.get("place", "")),
            mirror=sent.get("mirror", "") == "1",
        )
        if found is None:
            raise Refused(_("There is no room for it there. Choose another place."))
        to = found.placement
    elif do == "at":
        to = _at_numbers(sent, unit, job, placements, lies, piece, copy)
    elif lies is None or lies.metal not in job.stock_by_id:
        raise Refused(_("This piece is in the tray. Lay it first."))
    elif do == "turn":
        by = QUARTER_TURNS.get(sent.get("by", ""))
        to = places.turned(job, lies, degrees(sent.get("degrees", "")) if by is None else by)
    elif do == "mirror":
        if not job.wanted_by_id[piece].may_mirror:
            raise Refused(_("This piece must not be mirrored."))
        to = _mirrored(job, lies)
    else:
        raise Refused(_("Press one of the page's buttons."))
    return Move(piece, copy, to)


def _at_numbers(
    sent: Mapping[str, str],
    unit: LengthUnit,
    job: Job,
    placements: Sequence[Placement],
    lies: Placement | None,
    piece: str,
    copy: int,
) -> Placement:
    metal = sent.get("metal", "") or (job.metal[0].id if job.metal else "")
    at = places.At(
        metal,
        signed_length(sent.get("x", ""), unit),
        signed_length(sent.get("y", ""), unit),
        degrees(sent.get("turn", "") or "0"),
    )
    if "mirror_shown" in sent:
        mirror = sent.get("mirror", "") == "1"
    else:
        mirror = lies is not None and lies.mirror
    found = places.find(job, placements, piece, copy, at, mirror=mirror)
    if found is None:
        raise Refused(_("That stock piece is not on this table."))
    return found.placement


def _mirrored(job: Job, lies: Placement) -> Placement:
    """Turned over where it lies, as if about an upright line."""
    flipped = replace(lies, mirror=not lies.mirror, turn_deg=-lies.turn_deg % 360.0)
    outline = job.wanted_by_id[lies.piece].outline
    (x0, y0, _x, _y), (a0, b0, _a, _b) = lies.lay(outline).bounds, flipped.lay(outline).bounds
    return replace(flipped, x_mm=flipped.x_mm + x0 - a0, y_mm=flipped.y_mm + y0 - b0)
