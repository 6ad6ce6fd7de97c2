"""With which numbers does a new step begin? Sizes that suit the brief and what is there."""

from __future__ import annotations

from typing import Final

from studio.core.drawing import Limits

from .fields import Role, Sort
from .kinds import KINDS

FIRST_SHARE: Final = 0.6  # of the brief's shorter side: the first metal
NEXT_SHARE: Final = 0.25
LEAST_MM: Final = 3.0
_SHARP: Final = {"polygon", "star", "drop", "crescent", "heart", "letters"}
"""Cut away, their corners would ask the blade to turn on the spot."""


def first_values(
    kind_name: str, role: str, limits: Limits, *, has_metal: bool
) -> dict[str, float | str]:
    """Values for a new step; {} for a kind that is not known."""
    kind = KINDS.get(kind_name)
    if kind is None:
        return {}
    values: dict[str, float | str] = {}
    wants_role = kind.field("role") is not None
    if wants_role and role in list(Role):
        values["role"] = role
    metal_first = not has_metal and values.get("role", Role.METAL) == Role.METAL
    room = min(limits.max_width_mm, limits.max_height_mm)
    if kind.of == "shape" and kind.name != "tiling":
        target = max(room * (FIRST_SHARE if metal_first else NEXT_SHARE), LEAST_MM)
        grows = [field for field in kind.fields if field.grows]
        largest = max(float(field.usual) for field in grows)
        for field in grows:
            size = float(field.usual) * target / largest
            values[field.name] = min(max(round(size, 1), field.least), field.most)
        if role == Role.WINDOW and kind_name in _SHARP:
            values["round_out"] = limits.least_inside_radius_mm
        if kind.field("band") is not None:
            values["band"] = round(min(max(target / 6, limits.least_web_mm), target / 3), 1)
        if kind.field("corner") is not None:
            values["corner"] = round(target / 12, 1)
        if kind.field("bridge") is not None:
            values["bridge"] = round(limits.least_bridge_mm, 2)
    elif kind.name == "tiling":
        values["side"] = max(8.0, round(room / 6, 1))
        if has_metal:
            values["within"] = "metal"
    elif kind.name == "stroke":
        values["length"] = round(room * NEXT_SHARE, 1)
    elif kind.name == "all-frame":
        values["frame"] = round(max(2 * limits.least_web_mm, room / 15), 1)
    elif kind.name == "all-round":
        values |= {"round_out": 1.0, "round_in": 1.0}
    return {name: value for name, value in values.items() if _fits(kind_name, name, value)}


def _fits(kind_name: str, name: str, value: float | str) -> bool:
    field = KINDS[kind_name].field(name)
    if field is None:
        return False
    if field.sort in (Sort.CHOICE, Sort.TEXT):
        return True
    return field.least <= float(value) <= field.most
