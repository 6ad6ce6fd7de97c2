"""Which drill? Number drills #80 to #40, fractions of an inch, pilot holes and ring holes.

Number drills: ASME B94.11M (title from memory), all 41 values verified against public-domain
tables. Fractions are exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from classroom.figures.rounding import short_mm

from .blades import Blade
from .gauges import MM_PER_INCH
from .saying import ENGLISH, Say
from .sources import Status, UnknownMetalError

ONE_SIZE_PILOT: Final = 60
"""#60 (1.016 mm, sold as 1.0 mm) passes every blade up to No. 5 (computed; use is practice)."""

PILOT_ROOM: Final = 2.0
"""A window is so many times as wide as the pilot drill of one size, or a finer one is taken."""

RING_PLAY_LEAST_MM: Final = 0.2
RING_PLAY_MOST_MM: Final = 0.5
RING_WEB_MM: Final = 2.0
"""A ring hole is wider than its wire by so much, and keeps so much metal to the edge (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Drill:
    """One twist drill; `name` is what stands on its shank: "#52" or "1/16"."""

    name: str
    diameter_in: Decimal
    status: Status

    @property
    def diameter_mm(self) -> float:
        return float(self.diameter_in * MM_PER_INCH)

    @property
    def label(self) -> str:
        return self.label_in(ENGLISH)

    def label_in(self, say: Say) -> str:
        """Its name with the unit, and its diameter."""
        text = (
            "%(name)s (%(mm)s mm)" if self.name.startswith("#") else say("%(name)s in (%(mm)s mm)")
        )
        return text % {"name": self.name, "mm": short_mm(self.diameter_mm)}


# #80 first, one size thicker at a time down to #40, in ten-thousandths of an inch.
_NUMBER_TEN_THOUSANDTHS: Final = (
    *(135, 145, 160, 180, 200, 210, 225, 240, 250, 260),  # #80 to #71
    *(280, 292, 310, 320, 330, 350, 360, 370, 380, 390),  # #70 to #61
    *(400, 410, 420, 430, 465, 520, 550, 595, 635, 670),  # #60 to #51
    *(700, 730, 760, 785, 810, 820, 860, 890, 935, 960),  # #50 to #41
    980,  # #40
)
_FRACTIONS: Final = (
    *("1/64", "1/32", "3/64", "1/16", "5/64", "3/32"),
    *("7/64", "1/8", "5/32", "3/16", "1/4"),
)

NUMBER_DRILLS: Final[tuple[Drill, ...]] = tuple(
    Drill(f"#{80 - index}", Decimal(size) / 10_000, Status.VERIFIED)
    for index, size in enumerate(_NUMBER_TEN_THOUSANDTHS)
)
FRACTION_DRILLS: Final[tuple[Drill, ...]] = tuple(
    Drill(
        text,
        Decimal(Fraction(text).numerator) / Decimal(Fraction(text).denominator),
        Status.COMPUTED,
    )
    for text in _FRACTIONS
)
DRILLS: Final[tuple[Drill, ...]] = tuple(
    sorted(NUMBER_DRILLS + FRACTION_DRILLS, key=lambda one: one.diameter_in)
)
"""All drills, thinnest first."""

_BY_NAME: Final = {one.name: one for one in DRILLS}


@dataclass(frozen=True, slots=True)
class NearestDrill:
    """The drill nearest to a wanted diameter, and how much wider (+) or narrower (-) it is."""

    drill: Drill
    wanted_mm: float

    @property
    def off_mm(self) -> float:
        return self.drill.diameter_mm - self.wanted_mm


@dataclass(frozen=True, slots=True)
class PilotAdvice:
    """Pilot drill for a blade: the smallest that lets its diagonal through, and the chart's.

    Printed charts name a drill about as wide as the blade is deep, which is narrower than the
    blade's diagonal; `smallest` goes by the diagonal.
    """

    blade: Blade
    smallest: Drill
    chart: Drill
    one_size: Drill | None  # the classroom's one size, where it passes this blade


@dataclass(frozen=True, slots=True)
class RingHole:
    """Hole for a jump ring of this wire: range of diameters, drills in it, centre to edge (mm)."""

    wire_mm: float
    least_mm: float
    most_mm: float
    drills: tuple[Drill, ...]
    centre_from_edge_mm: float  # for the narrowest of the drills, or of the range


def drill(name: str) -> Drill:
    """The drill called "#52" or "1/16". Raises `UnknownMetalError`."""
    try:
        return _BY_NAME[name]
    except KeyError:
        raise UnknownMetalError(
            "That drill is not in the table: give #80 to #40 or a fraction from 1/64 to 1/4."
        ) from None


def drill_nearest(diameter_mm: float, among: Iterable[Drill] = DRILLS) -> NearestDrill:
    """The drill nearest to this diameter; of two equally near, the thinner.

    Raises `ValueError` for a diameter that is not a positive number.
    """
    if not (math.isfinite(diameter_mm) and diameter_mm > 0):
        raise ValueError("A drill's diameter must be a positive number of millimetres.")
    nearest = min(among, key=lambda one: (abs(one.diameter_mm - diameter_mm), one.diameter_in))
    return NearestDrill(nearest, diameter_mm)


def pilot_advice(blade: Blade) -> PilotAdvice:
    """Which number drill lets this blade through."""
    smallest = next(one for one in NUMBER_DRILLS if one.diameter_mm >= blade.diagonal_mm)
    one_size = drill(f"#{ONE_SIZE_PILOT}")
    return PilotAdvice(
        blade=blade,
        smallest=smallest,
        chart=drill(f"#{blade.chart_drill}"),
        one_size=one_size if one_size.diameter_mm >= blade.diagonal_mm else None,
    )


def pilot_for(blade: Blade, window_mm: float) -> Drill:
    """The drill for a pilot hole in a window whose largest circle is `window_mm` wide.

    The classroom's one size where it passes the blade and leaves as much room again, else the
    smallest that lets the blade through.
    """
    advice = pilot_advice(blade)
    if advice.one_size is not None and window_mm >= PILOT_ROOM * advice.one_size.diameter_mm:
        return advice.one_size
    return advice.smallest


def ring_hole_advice(wire_mm: float) -> RingHole:
    """Holes that suit a jump ring or ear wire of this thickness. Needs a wire of 0.2 to 3 mm."""
    if not 0.2 <= wire_mm <= 3.0:  # also false for NaN
        raise ValueError("Give the ring's wire thickness between 0.2 and 3 mm.")
    least, most = wire_mm + RING_PLAY_LEAST_MM, wire_mm + RING_PLAY_MOST_MM
    fitting = tuple(one for one in DRILLS if least <= one.diameter_mm <= most)
    narrowest = fitting[0].diameter_mm if fitting else least
    return RingHole(wire_mm, least, most, fitting, RING_WEB_MM + narrowest / 2)


def least_ring_inside_mm(web_mm: float, thickness_mm: float) -> float:
    """A ring must be wider inside than this, and a little play, to swing round the metal's edge.

    The diagonal of the web left at the edge and the sheet's thickness (geometry).
    """
    return math.hypot(web_mm, thickness_mm)
