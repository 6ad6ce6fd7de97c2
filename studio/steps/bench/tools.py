"""What the school's room has to part metal with: its shear, and how deep its saw frames reach."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from classroom.models import School, User, record
from studio.models import BenchSetup, Shear

from .wording import set_frame_depth


@dataclass(frozen=True, slots=True)
class RoomTools:
    """Lengths in mm. `shear_cut_mm` None: nobody said how long a cut the shear makes."""

    shear: str = Shear.NONE
    shear_cut_mm: float | None = None
    frame_depth_mm: float = 76.0

    @property
    def has_shear(self) -> bool:
        return self.shear != Shear.NONE


def tools_of(school: School) -> RoomTools:
    """The tools of the school's room; the usual ones where nobody has said."""
    setup = BenchSetup.objects.filter(school=school).first() or BenchSetup(school=school)
    longest = setup.shear_cut_mm
    return RoomTools(
        setup.shear, None if longest is None else float(longest), float(setup.frame_depth_mm)
    )


@transaction.atomic
def set_tools(
    school: School,
    *,
    frame_depth_mm: Decimal,
    shear: str,
    shear_cut_mm: Decimal | None,
    acting: User,
) -> BenchSetup:
    """Keep what the room has; plans asked for from now on are made with it.

    Without a shear there is no longest cut. Raises Refused for anybody but a teacher of the
    school.
    """
    setup = set_frame_depth(school, frame_depth_mm, acting=acting)
    longest = None if shear == Shear.NONE else shear_cut_mm
    if (setup.shear, setup.shear_cut_mm) != (shear, longest):
        setup.shear, setup.shear_cut_mm = shear, longest
        setup.full_clean()
        setup.save()
        reach = "" if longest is None else f", {longest} mm at most"
        record(acting, "room-shear", setup, f"to part metal: {setup.get_shear_display()}{reach}")
    return setup
