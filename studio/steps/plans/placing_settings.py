"""By which rules are pieces placed here? The course's, else the school's, else the app's own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from django.db import transaction
from django.db.models import Q

from classroom.models import Course, School, User, record
from inventory import metals
from studio.models import Brief, Hand, PlacingSettings

SheetGrain = PlacingSettings.SheetGrain

OFFCUT_MIN_WIDTH_MM: Final = Decimal(12)
OFFCUT_MIN_AREA_MM2: Final = Decimal(600)
"""A strip that holds a small charm with room to saw around it (common practice, no source)."""

EDGE_MARGIN_MM: Final = Decimal(2)
"""A strip beside a piece that is narrower cannot be sawn off (common practice, no source)."""

RIM_MM: Final = Decimal("1.5")
"""Paper beyond the line, so that its edge does not lift (common practice, no source)."""

STRAIGHT_MIN_MM: Final = Decimal(8)
"""A shorter run of an edge is not worth spoiling the room around it (common practice)."""

SHEAR_MARGIN_MM: Final = Decimal(1)
SAW_MARGIN_MM: Final = Decimal(2)
"""From a piece to the edge that parts the metal: a shear's is clean, a sawn one is filed straight
first (common practice, no source)."""

SHEAR_STRIP_MM: Final = Decimal(15)
SAW_STRIP_MM: Final = Decimal(5)
"""What is narrower a shear twists, and no hand holds (common practice, no source)."""

SAW_WORTH_PER_CM: Final = Decimal(0)
"""Blades are counted from the list of supplies; what class time is worth a school must say."""

FIELDS: Final = (
    "blade",
    "kerfs",
    "offcut_min_width_mm",
    "offcut_min_area_mm2",
    "hand",
    "first_gap_mm",
    "first_filing_mm",
    "surer_gap_mm",
    "surer_filing_mm",
    "rim_mm",
    "straight_min_mm",
    "edge_margin_mm",
    "saw_worth_per_cm",
    "sheet_grain",
    "sharing",
    "shear_margin_mm",
    "shear_strip_mm",
    "saw_margin_mm",
    "saw_strip_mm",
)


@dataclass(frozen=True, slots=True)
class Room:
    """How much room one hand gets, in mm. `gap_mm` None: as much as the saw takes, on the line.

    `filing_mm` is what a shared line has beyond the kerf, so that both sides can be filed.
    """

    gap_mm: Decimal | None
    filing_mm: Decimal

    def gap_for(self, kerf_mm: Decimal) -> Decimal:
        """Least distance between two outlines: never less than the saw takes."""
        return max(kerf_mm, self.gap_mm or kerf_mm)

    def shared_for(self, kerf_mm: Decimal) -> Decimal:
        """Width of a shared line: never more than pieces that share none are apart."""
        return min(kerf_mm + self.filing_mm, self.gap_for(kerf_mm))


@dataclass(frozen=True, slots=True)
class PlacingRules:
    """What holds for a course; every value is there. `sharing` empty: by the room's tools."""

    blade: str = metals.USUAL_BLADE.size
    kerfs: Mapping[str, Decimal] = field(default_factory=dict)
    offcut_min_width_mm: Decimal = OFFCUT_MIN_WIDTH_MM
    offcut_min_area_mm2: Decimal = OFFCUT_MIN_AREA_MM2
    hand: str = Hand.SURER
    first_gap_mm: Decimal = Decimal(2)
    first_filing_mm: Decimal = Decimal("0.4")
    surer_gap_mm: Decimal = Decimal(1)
    surer_filing_mm: Decimal = Decimal("0.2")
    rim_mm: Decimal = RIM_MM
    straight_min_mm: Decimal = STRAIGHT_MIN_MM
    edge_margin_mm: Decimal = EDGE_MARGIN_MM
    saw_worth_per_cm: Decimal = SAW_WORTH_PER_CM
    sheet_grain: str = SheetGrain.IGNORED
    sharing: str = ""
    shear_margin_mm: Decimal = SHEAR_MARGIN_MM
    shear_strip_mm: Decimal = SHEAR_STRIP_MM
    saw_margin_mm: Decimal = SAW_MARGIN_MM
    saw_strip_mm: Decimal = SAW_STRIP_MM

    def kerf_mm(self, size: str) -> Decimal:
        """The saw cut of a blade: as measured here, else as the table has it."""
        return self.kerfs.get(size) or table_kerf_mm(size)

    def room(self, hand: str = "") -> Room:
        """What this hand gets; the course's own without one."""
        match hand or self.hand:
            case Hand.FIRST:
                return Room(self.first_gap_mm, self.first_filing_mm)
            case Hand.SURER:
                return Room(self.surer_gap_mm, self.surer_filing_mm)
            case _:
                return Room(None, Decimal(0))

    def apart(self, briefs: Iterable[Brief]) -> Apart:
        """How far apart the pieces of a plan for these briefs lie: the widest of each holds."""
        rows = list(briefs)
        kerf = max(brief.kerf_mm for brief in rows)
        rooms = [self.room(brief.hand) for brief in rows]
        return Apart(
            kerf_mm=float(kerf),
            gap_mm=float(max(room.gap_for(kerf) for room in rooms)),
            shared_mm=float(max(room.shared_for(kerf) for room in rooms)),
        )


@dataclass(frozen=True, slots=True)
class Apart:
    """Saw cut, least distance and width of shared lines of one plan, in mm."""

    kerf_mm: float
    gap_mm: float
    shared_mm: float


def table_kerf_mm(size: str) -> Decimal:
    """The wider end of the table's cut for this blade: a hand-held saw wanders."""
    return Decimal(str(metals.kerf_advice(metals.blade(size))[1])).quantize(Decimal("0.01"))


def rules_for(school: School, course: Course | None = None) -> PlacingRules:
    """The rules of a course, or without one those of the whole school."""
    rows = list(PlacingSettings.objects.filter(Q(course=None) | Q(course=course), school=school))
    rows.sort(key=lambda row: row.course_id is not None)
    said: dict[str, Any] = {"kerfs": {}}
    for row in rows:
        if row.course_id is not None and course is None:
            continue
        for name in FIELDS:
            value = getattr(row, name)
            if name == "kerfs":
                said["kerfs"] |= {size: Decimal(mm) for size, mm in value.items()}
            elif value is not None and value != "":
                said[name] = value
    return PlacingRules(**said)


def said_by(school: School, course: Course | None) -> dict[str, Any]:
    """What the school's row, or the course's, says itself; nothing where there is none."""
    row = PlacingSettings.objects.filter(school=school, course=course).first()
    return {name: getattr(row, name) for name in FIELDS} if row else {}


@transaction.atomic
def set_rules(
    school: School, course: Course | None, said: Mapping[str, Any], *, acting: User
) -> bool:
    """Keep what is said for the school, or for one of its courses; whether anything changed.

    Plans that are there keep the rules they were placed by.
    """
    # The school's row is held, so that two teachers do not both make the first row.
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    row = PlacingSettings.objects.filter(school=school, course=course).first()
    row = row or PlacingSettings(school=school, course=course)
    before = {name: getattr(row, name) for name in FIELDS}
    for name in FIELDS:
        setattr(row, name, said[name])
    changed = [name for name in FIELDS if before[name] != said[name]]
    if not changed:
        return False
    row.full_clean(validate_constraints=False)
    row.save()
    record(
        acting,
        "placing-rules",
        course or school,
        "changed how pieces are placed",
        fields=sorted(changed),
    )
    return True
