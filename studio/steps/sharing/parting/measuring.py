"""What somebody says came out of parting: checked part by part before anything is booked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from classroom.refusals import Refused

from .planned_parts import PlannedPart

LEAST_MM: Final = Decimal(1)
MOST_MM: Final = Decimal(3100)
CAUSE_LENGTH: Final = 200


@dataclass(frozen=True, slots=True)
class PartOut:
    """What came out of one part: its measured sides in mm (None: as planned), or that it was
    spoilt; the cause where it was cut wrong or spoilt."""

    width_mm: Decimal | None = None
    height_mm: Decimal | None = None
    cause: str = ""
    is_lost: bool = False


AS_PLANNED: Final = PartOut()


def checked(parts: Sequence[PlannedPart], measured: Mapping[int, PartOut]) -> dict[int, PartOut]:
    """What is said of every part, those not named as planned. Raises Refused for parts that the
    plan does not have and sides that no part has."""
    numbers = {part.number for part in parts}
    if measured.keys() - numbers:
        raise Refused(_("This metal has no such part. Load the page again."))
    return {part.number: _one(part, measured.get(part.number, AS_PLANNED)) for part in parts}


def _one(part: PlannedPart, said: PartOut) -> PartOut:
    cause = " ".join(said.cause.split())[:CAUSE_LENGTH]
    if said.is_lost:
        if not cause:
            raise Refused(_("Say why part %(part)s was spoilt.") % {"part": part.number})
        return PartOut(cause=cause, is_lost=True)
    sides = (said.width_mm, said.height_mm)
    if sides == (None, None):
        return PartOut(cause=cause)
    if not part.can_be_measured:
        raise Refused(
            _("Part %(part)s is in several pieces and is not measured.") % {"part": part.number}
        )
    for side in sides:
        if side is None or not side.is_finite() or not LEAST_MM <= side <= MOST_MM:
            text = _("Give width and height of part %(part)s, each from %(least)s to %(most)s mm.")
            raise Refused(text % {"part": part.number, "least": LEAST_MM, "most": MOST_MM})
    hundredth = Decimal("0.01")
    width, height = (side.quantize(hundredth) for side in sides if side is not None)
    return PartOut(width, height, cause)
