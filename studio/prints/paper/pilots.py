"""How wide is a pilot hole drilled that the app has put into a window? By the blade, as the
bench's own list of drills says."""

from __future__ import annotations

from collections.abc import Callable

from classroom.figures.rounding import drill_size, short_mm
from classroom.figures.units import Units, format_thickness
from inventory import metals
from inventory.models import Metal
from studio.models import Brief

PilotSize = Callable[[float], float | None]
"""From the width of a window's room to the drill's diameter in mm; None where no blade is known."""


def pilot_size(brief: Brief, metal: Metal | None) -> PilotSize:
    """The drill for a brief's blade, or for the blade that suits the metal first."""
    if brief.blade:
        blade = metals.blade(brief.blade)
    elif metal is not None:
        blade = metals.first_choice_blade(metal.thickness_mm).blade
    else:
        return lambda room_mm: None
    return lambda room_mm: drill_size(metals.pilot_for(blade, room_mm).diameter_mm)


def drill_words(diameter_mm: float, units: Units) -> str:
    """A drill mark's diameter in the school's units, always decimal: "Ø 1.6" or "Ø 0.063 in"."""
    if units is Units.MM:
        return f"Ø {short_mm(diameter_mm)}"
    return f"Ø {format_thickness(diameter_mm, units)}"
