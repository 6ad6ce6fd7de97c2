"""How much room do pieces get on the metal? Drawn to one scale, so that hands can be compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.text import capfirst

from studio.models import Hand
from studio.steps.plans.placing_settings import PlacingRules, Room

WIDE: Final = 120  # of a picture
MOST_APART: Final = 60.0
USUAL_SCALE: Final = 20.0  # for a millimetre


@dataclass(frozen=True, slots=True)
class RoomPicture:
    """Two pieces with a gap, and two along a shared line; `on_line` where nothing is left to
    file. The paths are for the pictures in rules/gap.html and rules/shared.html."""

    label: str
    gap_mm: Decimal
    shared_mm: Decimal
    on_line: bool
    scale: float

    @property
    def gap(self) -> dict[str, str]:
        left, right = self._sides(self.gap_mm)
        return {
            "pieces": f"M8 8H{left - 16:.2f}C{left - 4:.2f} 8 {left:.2f} 18 {left:.2f} 28"
            f"S{left - 4:.2f} 48 {left - 16:.2f} 48H8Z"
            f"M{WIDE - 8} 8H{right + 16:.2f}C{right + 4:.2f} 8 {right:.2f} 18 {right:.2f} 28"
            f"S{right + 4:.2f} 48 {right + 16:.2f} 48H{WIDE - 8}Z",
            "size": self._size(left, right),
        }

    @property
    def shared(self) -> dict[str, str]:
        left, right = self._sides(self.shared_mm)
        return {
            "pieces": f"M8 8H{left:.2f}V48H8ZM{WIDE - 8} 8H{right:.2f}V48H{WIDE - 8}Z",
            "size": self._size(left, right),
        }

    def _sides(self, apart_mm: Decimal) -> tuple[float, float]:
        half = float(apart_mm) * self.scale / 2
        return WIDE / 2 - half, WIDE / 2 + half

    @staticmethod
    def _size(left: float, right: float) -> str:
        return (
            f"M{left - 13:.2f} 28H{left:.2f}M{right + 13:.2f} 28H{right:.2f}"
            f"M{left:.2f} 25V31M{right:.2f} 25V31"
        )


def room_pictures(rooms: Sequence[tuple[str, Room]], kerf_mm: Decimal) -> list[RoomPicture]:
    """The rooms with their labels, all at the scale at which the widest can be seen."""
    gaps = [float(room.gap_for(kerf_mm)) for _, room in rooms]
    scale = min(USUAL_SCALE, MOST_APART / max(gaps))
    return [
        RoomPicture(
            label,
            room.gap_for(kerf_mm),
            room.shared_for(kerf_mm),
            room.shared_for(kerf_mm) <= kerf_mm,
            scale,
        )
        for label, room in rooms
    ]


def pictures_of_hands(rules: PlacingRules, kerf_mm: Decimal) -> list[RoomPicture]:
    """Every hand under these rules."""
    return room_pictures([(capfirst(hand.label), rules.room(hand)) for hand in Hand], kerf_mm)
