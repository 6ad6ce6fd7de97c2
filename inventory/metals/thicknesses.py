"""How thick is the sheet somebody typed? Millimetres, inches, a gauge, or copper's ounces."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from classroom.figures.units import LengthError, LengthUnit, parse_length_mm
from inventory import metals

GAUGE_CAUTION: Final = (
    "Gauge systems disagree: 12 gauge is 2.05 mm in one and 2.74 mm in another. This list uses "
    "B&S, as sheet of copper alloys usually does. Check the sheet with a caliper when it comes."
)
OUNCE_CAUTION: Final = (
    "Copper sold by the ounce may be thinner than its nominal thickness. Check the sheet with a "
    "caliper when it comes."
)
EXAMPLES: Final = "Write it like 0.8 mm, 0.032 in, 20 ga or, for copper, 24 oz."

_GAUGE = re.compile(r"([0-9]{1,2})\s*-?\s*(?:ga|ga\.|gauge|gage|g|awg|b\s*&\s*s)", re.IGNORECASE)
_OUNCE = re.compile(
    r"([0-9]{1,2})\s*-?\s*(?:oz|oz\.|ounces?)(?:\s*(?:per\s*)?/?\s*(?:sq\.?\s*ft|ft2|ft²))?",
    re.IGNORECASE,
)


class ThicknessUnreadable(ValueError):
    """What was typed is no sheet's thickness; the message says how to write it."""


@dataclass(frozen=True, slots=True)
class TypedThickness:
    """Millimetres to three places, and a caution where the way it was typed calls for one."""

    mm: Decimal
    caution: str = ""


def read_thickness(
    text: str, alloy_code: str, default_unit: LengthUnit = LengthUnit.MM
) -> TypedThickness:
    """The thickness that a person typed for this alloy.

    Raises ThicknessUnreadable for everything that is not the thickness of a sheet.
    """
    written = " ".join(text.split())[:40]
    try:
        if found := _GAUGE.fullmatch(written):
            return TypedThickness(metals.bs_thickness_mm(int(found.group(1))), GAUGE_CAUTION)
        if found := _OUNCE.fullmatch(written):
            if alloy_code != "C11000":
                raise ThicknessUnreadable(f"Only copper is sold by the ounce. {EXAMPLES}")
            return TypedThickness(metals.ounce_copper_mm(int(found.group(1))), OUNCE_CAUTION)
        if re.fullmatch(r"[0-9]{2}", written):
            raise ThicknessUnreadable(
                f"{written} what? Write {written} ga for a gauge, or a thickness such as 0.8 mm."
            )
        exact = parse_length_mm(written, default_unit, least_mm=0.05, most_mm=10)
        return TypedThickness(metals.thickness_key(exact))
    except LengthError as error:
        raise ThicknessUnreadable(f"{error.message} {EXAMPLES}") from error
    except (metals.ThicknessError, metals.UnknownMetalError) as error:
        raise ThicknessUnreadable(str(error)) from error
