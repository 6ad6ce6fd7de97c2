"""How do people type and read lengths? Millimetres inside, their own units at the edge.

Parsing takes what a person would write ("62", "6.2 cm", "62,5 mm", "2 3/8 in", '2-3/8"') and
refuses everything else with a sentence that says how to mend it. Showing always shows the unit.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from .rounding import (
    GRAM_KEPT,
    GRAM_PLACES,
    GRAM_SHOWN,
    MM2_PLACES,
    MM_PLACES,
    percent_of,
    places_apart,
    plain,
    rounded,
)

MM_PER_INCH: Final = 25.4  # exact by definition (international inch, 1959)
MM_PER_CSS_PX: Final = 25.4 / 96  # exact by definition (CSS Values and Units: 96 px = 1 in)
MM_PER_POINT: Final = 25.4 / 72  # PDF's unit
GRAM_PER_OUNCE: Final = 28.349523125  # avoirdupois, exact by definition

LONGEST_TEXT: Final = 40
LEAST_LENGTH_MM: Final = 0.001
MOST_LENGTH_MM: Final = 10_000.0
"""Bounds of a length where the caller gives none: nothing on a school's rack is 10 m long."""

_SIXTY_FOURTHS: Final = 64
MOST_LOST: Final = Decimal("0.02")
"""Share of a length that a fraction of an inch may take from it, or add to it."""

_PER_INCH: Final = Decimal("25.4")
_PER_OUNCE: Final = Decimal("28.349523125")


class LengthUnit(StrEnum):
    """A unit a length may be typed in."""

    MM = "mm"
    CM = "cm"
    INCH = "in"


class Units(StrEnum):
    """What a school likes to read: millimetres, inches with fractions, or decimal inches."""

    MM = "mm"
    INCH = "in"
    INCH_DECIMAL = "in-decimal"

    @property
    def typed(self) -> LengthUnit:
        """The unit meant when a person of this school types a bare number."""
        return LengthUnit.MM if self is Units.MM else LengthUnit.INCH


class LengthError(ValueError):
    """A length that cannot be used. `message` says what is wrong, `mend` how to put it right."""

    code = "length"

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(f"{message} {mend}")
        self.message = message
        self.mend = mend


class LengthMissingError(LengthError):
    """Nothing was typed."""

    code = "length-missing"


class LengthUnreadableError(LengthError):
    """Not a number with a unit."""

    code = "length-unreadable"


class LengthAmbiguousError(LengthError):
    """Can be read in two ways."""

    code = "length-ambiguous"


class LengthOutOfBoundsError(LengthError):
    """A number, but negative, too small or too large."""

    code = "length-out-of-bounds"


_PER_UNIT_MM: Final = {
    LengthUnit.MM: Fraction(1),
    LengthUnit.CM: Fraction(10),
    LengthUnit.INCH: Fraction(254, 10),
}
_UNIT_WORDS: Final = {
    **dict.fromkeys(
        ("mm", "millimetre", "millimetres", "millimeter", "millimeters"), LengthUnit.MM
    ),
    **dict.fromkeys(
        ("cm", "centimetre", "centimetres", "centimeter", "centimeters"), LengthUnit.CM
    ),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"'), LengthUnit.INCH),
}
_EXAMPLES: Final = "Write it like 62 mm, 6.2 cm, 2.5 in or 2 3/8 in."
# At most 12 digits anywhere, so that no text can ask for a huge number.
_DECIMAL: Final = re.compile(r"(?:[0-9]{1,12}(?:[.,][0-9]{0,12})?|[.,][0-9]{1,12})")
_FRACTION: Final = re.compile(r"(?:([0-9]{1,6})(?:\s+|\s*-\s*))?([0-9]{1,4})\s*/\s*([0-9]{1,4})")
_NUMBER_THEN_WORD: Final = re.compile(r"([0-9.,/\s-]*[0-9.,])\s*([a-z]+\.?|\")?")


def parse_length_mm(
    text: str,
    default_unit: LengthUnit | str = LengthUnit.MM,
    *,
    least_mm: float = LEAST_LENGTH_MM,
    most_mm: float = MOST_LENGTH_MM,
) -> float:
    """The length in millimetres that a person typed; a bare number is in `default_unit`.

    Bounds are inclusive; pass `least_mm=0` where nothing at all is a fair answer. Raises one of
    the four `LengthError`s above, never anything else for any text.
    """
    default = LengthUnit(default_unit)
    written = _tidy(text)
    split = _NUMBER_THEN_WORD.fullmatch(written.removeprefix("+"))
    if split is None:
        raise _unreadable(text, written)
    number, word = split.group(1).strip(), split.group(2)
    if word is not None and word not in _UNIT_WORDS:
        raise LengthUnreadableError(f"The unit in “{_quoted(text)}” is not known.", _EXAMPLES)
    unit = default if word is None else _UNIT_WORDS[word]
    if number.startswith("-"):
        raise LengthOutOfBoundsError("A length cannot be negative.", "Leave out the minus sign.")
    exact_mm = _amount(number, text, written) * _PER_UNIT_MM[unit]
    if not Fraction(least_mm) <= exact_mm <= Fraction(most_mm):
        raise LengthOutOfBoundsError(
            f"“{_quoted(text)}” is out of bounds.",
            f"Give a length from {_bound(least_mm, unit)} to {_bound(most_mm, unit)}.",
        )
    return float(exact_mm)


def format_length(mm: float | Decimal, units: Units | str = Units.MM, *, places: int = 1) -> str:
    """A length with its unit: "62.0 mm", "2 7/16 in" (nearest 1/64) or "2.441 in".

    `places` are the decimals of millimetres; decimal inches always have three. A length so short
    that the nearest 1/64 in would falsify it is shown in decimals, never as nothing.
    """
    match Units(units):
        case Units.MM:
            return f"{plain(mm, places, kept=max(places, MM_PLACES))} mm"
        case Units.INCH_DECIMAL:
            return f"{plain(_inches(mm), 3)} in"
        case Units.INCH:
            return _inch_fraction(_inches(mm))


def format_size(
    one_mm: float | Decimal, other_mm: float | Decimal, units: Units | str = Units.MM
) -> str:
    """The sides of a rectangle whose direction says nothing, the longer first."""
    longer, shorter = max(one_mm, other_mm), min(one_mm, other_mm)
    return f"{format_length(longer, units)} × {format_length(shorter, units)}"


def format_beside(
    mm: float | Decimal, limit_mm: float | Decimal | None, units: Units | str = Units.MM
) -> tuple[str, str]:
    """A measured length and the limit that it misses, so fine that they never read the same.

    Hundredths of a millimetre or thousandths of an inch, always decimal: sixty-fourths would show
    1.9 mm and its limit of 2 mm as the same. The limit's text is empty where there is none.
    """
    inch = Units(units) is not Units.MM
    least, most = (3, 5) if inch else (2, MM_PLACES)
    value = _inches(mm) if inch else rounded(mm, MM_PLACES)
    unit = LengthUnit.INCH if inch else LengthUnit.MM
    if limit_mm is None:
        return f"{plain(value, least)} {unit}", ""
    limit = _inches(limit_mm) if inch else rounded(limit_mm, MM_PLACES)
    places = places_apart(value, limit, least, most)
    return f"{plain(value, places)} {unit}", f"{plain(limit, places)} {unit}"


def format_thickness(mm: float | Decimal, units: Units | str = Units.MM) -> str:
    """A thickness, kerf, gap, margin or drill's size with its unit, always decimal: "0.81 mm",
    "0.812 mm" or "0.032 in". Sixty-fourths would show a kerf of 0.3 mm as one of 0.4."""
    if Units(units) is Units.MM:
        three, two = plain(mm, 3), plain(mm, 2)
        return f"{two if three == two + '0' else three} mm"
    return f"{plain(_inches(mm), 3)} in"


def format_run(mm: float | Decimal, units: Units | str = Units.MM) -> str:
    """How far to saw, with its unit. Lists of it have short lines and long ones, so inches are
    decimal: in fractions the shortest would stand in decimals between the others."""
    inch = Units(units) is not Units.MM
    return format_length(mm, Units.INCH_DECIMAL if inch else Units.MM)


def format_bound(mm: float, units: Units | str = Units.MM) -> str:
    """The least or most that may be typed, as a refusal tells it."""
    return _bound(mm, Units(units).typed)


def format_area(mm2: float | Decimal, units: Units | str = Units.MM) -> str:
    """An area with its unit: "12.34 cm²" or "1.91 sq in"."""
    known = rounded(mm2, MM2_PLACES)
    if Units(units) is Units.MM:
        return f"{_minus(plain(known / 100, 2))} cm²"
    return f"{_minus(plain(known / _PER_INCH**2, 2))} sq in"


def format_mass(grams: float | Decimal, units: Units | str = Units.MM) -> str:
    """A weight with its unit: "12.3 g" or "0.43 oz" (everyday ounces, not troy)."""
    known = rounded(grams, GRAM_PLACES, kept=GRAM_KEPT)
    if Units(units) is Units.MM:
        return f"{_minus(plain(known, GRAM_SHOWN))} g"
    return f"{_minus(plain(known / _PER_OUNCE, 2))} oz"


def format_share(part: float | Decimal, whole: float | Decimal = 1.0) -> str:
    """A part of a whole in whole percent: "65 %"; of nothing it is none. Name the whole."""
    return f"{percent_of(float(part) / float(whole)) if whole else 0} %"


def _minus(number: str) -> str:
    """A figure for people: below nothing with a minus, not the hyphen of a program."""
    return number.replace("-", "\N{MINUS SIGN}")


def length_to_type(
    mm: float | Decimal, units: Units | str = Units.MM, *, kept: int = MM_PLACES
) -> str:
    """A length as a form shows it for editing, with its unit, and parseable.

    Exact to `kept` decimals of a millimetre. Inches are as short as that allows, so that a kerf
    of 0.30 mm stands as 0.012 in where hundredths are kept, and 1/16 in as it was typed.
    """
    if Units(units) is Units.MM:
        return f"{_trimmed(mm, kept)} mm"
    inches = rounded(mm, 9) / _PER_INCH
    for places in range(3, 6):
        off_mm = abs(rounded(inches, places) - inches) * _PER_INCH
        if 2 * off_mm.scaleb(kept) < 1:
            break
    if places > 3:
        steps = Fraction(int(rounded(inches * _SIXTY_FOURTHS, 0)), _SIXTY_FOURTHS)
        exact = Decimal(steps.numerator) / steps.denominator
        if 2 * (abs(exact - inches) * _PER_INCH).scaleb(kept) < 1:
            is_plain = Units(units) is Units.INCH_DECIMAL
            return f"{_trimmed(exact, 6)} in" if is_plain else _inch_fraction(exact)
    return f"{_trimmed(inches, places)} in"


def _tidy(text: str) -> str:
    """One plain spelling of what was typed: ASCII marks, single spaces, small letters."""
    if len(text) > LONGEST_TEXT:
        raise LengthUnreadableError(
            f"That is too long for a length ({len(text)} characters).",
            _EXAMPLES,
        )
    # A space before each vulgar fraction first: "2½" would otherwise become "21/2".
    spaced = "".join(
        f" {sign}" if unicodedata.normalize("NFKC", sign).find("\u2044") > 0 else sign
        for sign in text
    )
    plain = unicodedata.normalize("NFKC", spaced)
    for fancy, simple in (
        ("\u2044", "/"),
        ("\u2212", "-"),
        ("\u2013", "-"),
        ("\u2033", '"'),
        ("\u2032\u2032", '"'),
        ("\u201d", '"'),
        ("\u201c", '"'),
        ("''", '"'),
    ):
        plain = plain.replace(fancy, simple)
    written = " ".join(plain.split()).lower()
    if not written:
        raise LengthMissingError("No length is given.", _EXAMPLES)
    return written


def _amount(number: str, text: str, written: str) -> Fraction:
    fraction = _FRACTION.fullmatch(number)
    if fraction is not None:
        whole, above, below = fraction.groups()
        if int(below) == 0:
            raise LengthUnreadableError(
                f"“{_quoted(text)}” divides by nothing.", "Write a fraction such as 3/8."
            )
        rest = Fraction(int(above), int(below))
        if whole is not None and rest >= 1:
            raise LengthAmbiguousError(
                f"The fraction in “{_quoted(text)}” is a whole or more.",
                "Write the whole number first, then less than a whole, such as 2 3/8.",
            )
        return int(whole or 0) + rest
    if _DECIMAL.fullmatch(number) is None:
        raise _unreadable(text, written)
    before, comma, after = number.partition(",")
    if comma and len(after) == 3 and before not in ("", "0"):
        raise LengthAmbiguousError(
            f"“{_quoted(text)}” can be read two ways.",
            f"Write {before}{after} or {before}.{after}.",
        )
    return Fraction(Decimal(number.replace(",", ".")))


def _unreadable(text: str, written: str) -> LengthError:
    quoted = _quoted(text)
    if re.search(r"[0-9]e[+-]?[0-9]", written):
        return LengthUnreadableError(
            f"“{quoted}” is written with an exponent.", "Write the number out in full."
        )
    if "," in written and "." in written:
        return LengthAmbiguousError(
            f"“{quoted}” has both a point and a comma.",
            "Use one of them, only to mark the decimals.",
        )
    if "'" in written:
        return LengthUnreadableError(
            f"“{quoted}” is in feet.", "Write it in inches or millimetres."
        )
    return LengthUnreadableError(f"“{quoted}” is not a length.", _EXAMPLES)


def _quoted(text: str) -> str:
    """The typed text cut short and without signs that do not print."""
    return "".join(sign if sign.isprintable() else "?" for sign in text.strip()[:LONGEST_TEXT])


def _bound(mm: float, unit: LengthUnit) -> str:
    return f"{_trimmed(mm / float(_PER_UNIT_MM[unit]), 4)} {unit}"


def _inches(mm: float | Decimal) -> Decimal:
    return rounded(mm, MM_PLACES) / _PER_INCH


def _inch_fraction(inches: Decimal) -> str:
    steps = int(rounded(abs(inches) * _SIXTY_FOURTHS, 0))
    if inches == 0:
        return "0 in"
    lost = abs(Decimal(steps) / _SIXTY_FOURTHS - abs(inches))
    if lost > abs(inches) * MOST_LOST:
        return f"{plain(inches, 3 if steps else 4)} in"
    whole, over = divmod(steps, _SIXTY_FOURTHS)
    rest = Fraction(over, _SIXTY_FOURTHS)
    shown = [str(whole)] if whole else []
    if rest:
        shown.append(f"{rest.numerator}/{rest.denominator}")
    return f"{'-' if inches < 0 else ''}{' '.join(shown)} in"


def _trimmed(value: float | Decimal, places: int) -> str:
    shown = plain(value, places)
    return shown.rstrip("0").rstrip(".") if "." in shown else shown
