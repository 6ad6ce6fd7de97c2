"""Facts about metals, each with its source and status beside it. Pure: no Django, no database.

Thicknesses that key a metal are Decimal millimetres with three places; physics is in floats.
"""

from .alloys import ALLOY_CODES, ALLOYS, Alloy, CautionKind, ColourFamily, alloy
from .bench_facts import BenchFacts, bench_facts
from .blades import (
    BLADES,
    USUAL_BLADE,
    Blade,
    Rating,
    blade,
    blade_advice,
    first_choice_blade,
    kerf_advice,
    rate_blade,
    teeth_in_metal,
)
from .drills import (
    DRILLS,
    NUMBER_DRILLS,
    drill,
    drill_nearest,
    least_ring_inside_mm,
    pilot_advice,
    pilot_for,
    ring_hole_advice,
)
from .gauges import (
    ThicknessError,
    bs_inches,
    bs_thickness_mm,
    gauge_label,
    ounce_copper_mm,
    thickness_key,
    thickness_label,
)
from .masses import (
    GRAM_PER_GRAIN,
    GRAM_PER_OUNCE,
    GRAM_PER_PENNYWEIGHT,
    GRAM_PER_POUND,
    GRAM_PER_TROY_OUNCE,
    GRAM_PER_UNIT,
    grams,
    mass_g,
)
from .saying import ENGLISH, Say
from .sources import UnknownMetalError

__all__ = [
    "ALLOYS",
    "ALLOY_CODES",
    "BLADES",
    "DRILLS",
    "ENGLISH",
    "GRAM_PER_GRAIN",
    "GRAM_PER_OUNCE",
    "GRAM_PER_PENNYWEIGHT",
    "GRAM_PER_POUND",
    "GRAM_PER_TROY_OUNCE",
    "GRAM_PER_UNIT",
    "NUMBER_DRILLS",
    "USUAL_BLADE",
    "Alloy",
    "BenchFacts",
    "Blade",
    "CautionKind",
    "ColourFamily",
    "Rating",
    "Say",
    "ThicknessError",
    "UnknownMetalError",
    "alloy",
    "bench_facts",
    "blade",
    "blade_advice",
    "bs_inches",
    "bs_thickness_mm",
    "drill",
    "drill_nearest",
    "first_choice_blade",
    "gauge_label",
    "grams",
    "kerf_advice",
    "least_ring_inside_mm",
    "mass_g",
    "ounce_copper_mm",
    "pilot_advice",
    "pilot_for",
    "rate_blade",
    "ring_hole_advice",
    "teeth_in_metal",
    "thickness_key",
    "thickness_label",
    "translated_texts",
]


def translated_texts() -> set[str]:
    """The texts of the tables that people read, for the catalogues of other languages."""
    cautions = {caution.text for one in ALLOYS for caution in one.cautions}
    return cautions | {one.plain_name for one in ALLOYS}
