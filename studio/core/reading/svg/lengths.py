"""Lengths with SVG's units, as CSS fixes them: 1 in = 25.4 mm = 96 px = 72 pt = 6 pc."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .fault import Fault, quoted
from .scanning import Scanner

PX_PER_INCH = 96.0
MM_PER_INCH = 25.4
MM_PER_PX = MM_PER_INCH / PX_PER_INCH

PX_PER_UNIT = {
    "": 1.0,
    "px": 1.0,
    "in": PX_PER_INCH,
    "cm": PX_PER_INCH / 2.54,
    "mm": PX_PER_INCH / MM_PER_INCH,
    "q": PX_PER_INCH / MM_PER_INCH / 4,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}
PHYSICAL_UNITS = frozenset({"in", "cm", "mm", "q", "pt", "pc"})


@dataclass(frozen=True, slots=True)
class Length:
    """A number and its unit: a key of `PX_PER_UNIT`, or "%"."""

    value: float
    unit: str

    def px(self, whole: float) -> float:
        """The length in user units; `whole` is what 100 % would be."""
        if self.unit == "%":
            return self.value * whole / 100.0
        return self.value * PX_PER_UNIT[self.unit]


@dataclass(frozen=True, slots=True)
class Viewport:
    """The size that percentages refer to, in user units."""

    width: float
    height: float

    @property
    def diagonal(self) -> float:
        return math.hypot(self.width, self.height) / math.sqrt(2.0)


def parse_length(text: str, what: str) -> Length:
    """One length and nothing else; raises `Fault`."""
    scanner = Scanner(text, what)
    scanner.skip_space()
    length = scan_length(scanner)
    scanner.skip_space()
    if not scanner.done:
        raise scanner.fault("the end")
    return length


def scan_length(scanner: Scanner) -> Length:
    value = scanner.number()
    if scanner.next == "%":
        scanner.at += 1
        return Length(value, "%")
    unit = scanner.word().lower() if scanner.next.isalpha() else ""
    if unit not in PX_PER_UNIT:
        raise Fault(
            "unit-unknown",
            f"{scanner.what} is measured in {quoted(unit)}, which cannot be read here.",
            "Use mm, cm, in, pt, pc or px.",
        )
    return Length(value, unit)
