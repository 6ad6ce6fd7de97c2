"""A length as people type it ("62", "2 3/8 in"), cleaned to Decimal millimetres."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from classroom.figures.units import LengthError, Units, length_to_type, parse_length_mm
from classroom.models import School

_HUNDREDTH = Decimal("0.01")


class LengthField(forms.CharField):
    """Cleans to millimetres with two places, or None where nothing is typed and nothing needed.

    `for_school(school)` sets the unit that a bare number is meant in; a value typed with its
    own unit is taken as typed.
    """

    def __init__(self, *, least_mm: float = 0.05, most_mm: float = 2000.0, **options: Any) -> None:
        options.setdefault("max_length", 40)
        super().__init__(**options)
        self.least_mm = least_mm
        self.most_mm = most_mm
        self.units = Units.MM
        self.widget.attrs.setdefault("inputmode", "text")
        self.widget.attrs.setdefault("autocomplete", "off")

    def for_school(self, school: School) -> None:
        self.units = Units(school.units)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float | Decimal):
            return length_to_type(value, self.units, kept=2)
        return value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            exact = parse_length_mm(
                text, self.units.typed, least_mm=self.least_mm, most_mm=self.most_mm
            )
        except LengthError as error:
            raise ValidationError(str(error), code=error.code) from error
        return Decimal(str(exact)).quantize(_HUNDREDTH, ROUND_HALF_UP)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


def use_units(form: forms.BaseForm, school: School) -> None:
    """Tell every length field of the form which units the school types."""
    for field in form.fields.values():
        if isinstance(field, LengthField):
            field.for_school(school)
