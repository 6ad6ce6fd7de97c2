"""The three hands as choices, each with how much room it gives."""

from __future__ import annotations

from django.utils.text import capfirst
from django.utils.translation import gettext

from classroom.figures.units import Units, format_thickness
from classroom.models import School
from studio.models import Hand
from studio.steps.plans.placing_settings import PlacingRules, Room


def hand_choices(rules: PlacingRules, school: School) -> list[tuple[str, str]]:
    """Every hand with its numbers under these rules, in the school's units."""
    return [
        (hand.value, f"{capfirst(hand.label)}: {room_words(rules.room(hand), school.units)}")
        for hand in Hand
    ]


def room_words(room: Room, units: Units | str) -> str:
    """How far apart pieces lie."""
    if room.gap_mm is None:
        return gettext("one kerf everywhere, sawn on the line")
    gap, filing = format_thickness(room.gap_mm, units), format_thickness(room.filing_mm, units)
    return gettext("%(gap)s between pieces, the kerf and %(filing)s on shared lines") % {
        "gap": gap,
        "filing": filing,
    }
