"""A piece of metal is photographed, and what was read goes to the person as a sealed text.

Nothing is stored between the photo and the person's word: the text comes back with the form, and
its seal shows that nobody has changed it.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

import shapely
from django.core import signing
from shapely.affinity import rotate
from shapely.geometry import Polygon

from classroom.models import User
from classroom.refusals import Refused
from inventory.models import Metal
from inventory.queries import metals_for
from inventory.rack.outlines import checked_outline
from inventory.rack.weighing import WeightCheck, check_weight
from studio.core.areas import united, without
from studio.core.reading import PatternError, TurnedDown, Upload
from studio.core.reading.metal import MetalAsked, MetalPhoto, read_metal

_SALT = "studio.photographed-metal"
_HOURS = 12


@dataclass(frozen=True, slots=True)
class Photographed:
    """What was read, and which metal the person says it is."""

    photo: MetalPhoto
    metal: Metal
    measured_mm: Decimal | None
    traced: bool

    @property
    def thickness_mm(self) -> Decimal:
        return self.measured_mm or self.metal.thickness_mm

    def outline(self, windows: Collection[int]) -> Polygon:
        """The metal with these of its openings (numbered from 1) as windows, set upright.

        Raises Refused where no one piece of metal is left.
        """
        gone = [
            one.outline
            for number, one in enumerate(self.photo.openings, start=1)
            if number in windows
        ]
        shape = without(self.photo.outer, united(gone))
        if not isinstance(shape, Polygon):
            raise Refused("These windows would cut the metal in two: untick the wrong one.")
        return checked_outline(upright(shape))

    def weight_check(self, weight_g: Decimal, outline: Polygon) -> WeightCheck:
        return check_weight(
            weight_g,
            area_mm2=Decimal(repr(float(outline.area))),
            thickness_mm=self.thickness_mm,
            alloy_code=self.metal.alloy_code,
        )


def upright(shape: Polygon) -> Polygon:
    """The shape turned by 45 degrees at most, so that the box around it is smallest.

    Nobody lays an offcut down squarely, and a rack's sizes are those of upright boxes.
    """
    box = shapely.get_coordinates(shapely.oriented_envelope(shape))
    if len(box) < 4:
        return shape
    (x0, y0), (x1, y1) = box[0], box[1]
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    angle = (angle + 45.0) % 90.0 - 45.0
    turned: Polygon = rotate(shape, -angle, origin=(0, 0))
    return turned


def read_photo(
    upload: Upload, metal: Metal, *, measured_mm: Decimal | None = None, traced: bool = False
) -> Photographed | TurnedDown:
    """What takes seconds: the metal in the photo, or why none can be read out of it."""
    asked = MetalAsked(float(measured_mm or metal.thickness_mm), traced)
    try:
        photo = read_metal(upload, asked)
    except PatternError as why:
        return TurnedDown(why)
    return Photographed(photo, metal, measured_mm, traced)


def sealed(one: Photographed, *, acting: User) -> str:
    """As text that comes back with the form."""
    return signing.dumps(
        {
            "photo": one.photo.to_json(),
            "metal": one.metal.pk,
            "measured": None if one.measured_mm is None else str(one.measured_mm),
            "traced": one.traced,
            "by": acting.pk,
        },
        salt=_SALT,
    )


def unsealed(text: str, *, acting: User) -> Photographed:
    """Raises Refused for a text that was changed, is another person's, or too old."""
    try:
        found = signing.loads(text, salt=_SALT, max_age=_HOURS * 3600)
        if found["by"] != acting.pk:
            raise Refused("Upload the photo again: what was read of it belongs to somebody else.")
        metal = metals_for(acting).filter(pk=found["metal"], retired_at=None).first()
        if metal is None:
            raise Refused("That metal is not on the list any more. Upload the photo again.")
        measured = None if found["measured"] is None else Decimal(found["measured"])
        return Photographed(
            MetalPhoto.from_json(found["photo"]), metal, measured, bool(found["traced"])
        )
    except signing.BadSignature:
        raise Refused(
            f"What was read of the photo is more than {_HOURS} hours old, or was changed on its "
            "way. Upload the photo again."
        ) from None
