"""One question about a waiting file: what tells how large it is, or what one unit of it is."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from classroom.figures.rounding import told_mm
from classroom.forms.lengths import LengthField, use_units
from classroom.models import School
from studio.core.reading import PatternError, Reference
from studio.core.reading.bounds import MAX_SIZE_MM
from studio.core.reading.known_things import (
    BY_CODE,
    MOST_MARKS,
    KnownThing,
    reference_of,
    things_for,
)
from studio.core.reading.tracing import Point


def thing_choices(currency: str = "") -> list[tuple[str, Any]]:
    """Coins with whose they are and how large, by currency; the school's own first."""
    return [
        (_(group), [(thing.code, _words(thing)) for thing in things])
        for group, things in groupby(things_for(currency), key=lambda thing: thing.group)
    ]


def _words(thing: KnownThing) -> str:
    name = _(thing.name)
    return f"{name}, {told_mm(thing.width_mm)} mm" if thing.kind == "coin" else name


class _Question(forms.Form):
    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_units(self, school)


class MarkForm(_Question):
    """What lies in the picture and where: `x1`, `y1`, ... in dots of the whole picture."""

    thing = forms.ChoiceField(
        label="What lies in the picture", choices=thing_choices, initial="length"
    )
    length_mm = LengthField(
        label="How long it is",
        least_mm=5,
        most_mm=MAX_SIZE_MM,
        required=False,
        help_text="Between both ends, measured with a rule. Write it like 50 mm or 2 in.",
    )

    def __init__(self, *args: Any, size: tuple[int, int], school: School, **kwargs: Any) -> None:
        super().__init__(*args, school=school, **kwargs)
        thing = self.fields["thing"]
        assert isinstance(thing, forms.ChoiceField)
        thing.choices = thing_choices(school.currency)
        for number in range(1, MOST_MARKS + 1):
            for name, most in zip("xy", size, strict=True):
                self.fields[f"{name}{number}"] = forms.FloatField(
                    min_value=0, max_value=most, required=False
                )

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        thing = BY_CODE.get(typed.get("thing", ""))
        if any(name[0] in "xy" for name in self.errors):
            raise forms.ValidationError("A mark lies outside the picture, or is no number.")
        if thing is None or self.errors:
            return typed
        if thing.kind == "length" and typed.get("length_mm") is None:
            self.add_error("length_mm", "Type how long it is between both ends.")
            return typed
        marks: list[Point] = []
        for number in range(1, len(thing.marks) + 1):
            x, y = typed.get(f"x{number}"), typed.get(f"y{number}")
            if x is not None and y is not None:
                marks.append((x, y))
        length = typed.get("length_mm")
        try:
            typed["reference"] = reference_of(
                thing, marks, None if length is None else float(length)
            )
        except PatternError as odd:
            raise forms.ValidationError(str(odd)) from odd
        return typed

    def marks(self) -> list[tuple[int, forms.BoundField, forms.BoundField]]:
        return [(n, self[f"x{n}"], self[f"y{n}"]) for n in range(1, MOST_MARKS + 1)]

    @property
    def reference(self) -> Reference:
        found: Reference = self.cleaned_data["reference"]
        return found


class WidthForm(_Question):
    width_mm = LengthField(
        label="Width of the whole drawing",
        least_mm=0.1,
        most_mm=MAX_SIZE_MM,
        help_text="From its leftmost to its rightmost line, like 62 mm or 2 3/8 in.",
        error_messages={"required": "Type how wide the whole drawing is."},
    )


class DpiForm(_Question):
    dpi = forms.FloatField(
        label="Dots per inch",
        min_value=100,
        max_value=2400,
        help_text="As set when it was scanned, often 300.",
        error_messages={
            "invalid": "Write the resolution as a number, such as 300.",
            "required": "Type the scanner's resolution, such as 300.",
        },
    )
