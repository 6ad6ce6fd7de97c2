"""Fields that several inventory forms share: money, weights, corner points, a key sent once."""

from __future__ import annotations

import re
import uuid
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.utils import pretty_name
from django.utils import timezone

from classroom.figures.units import LengthError, Units, parse_length_mm
from classroom.models import School
from classroom.wording.typed_lines import tidy
from inventory import metals
from inventory.rack.outlines import MOST_CORNERS
from inventory.spending.money import MOST_AT_ONCE

_WEIGHT = re.compile(r"([0-9]{1,9}(?:[.,][0-9]{0,6})?|[.,][0-9]{1,6})\s*([a-z]+)?")
_WEIGHT_WORDS = {
    "gram": "g",
    "grams": "g",
    "ounce": "oz",
    "ounces": "oz",
    "pound": "lb",
    "pounds": "lb",
    "lbs": "lb",
}


class MoneyField(forms.DecimalField):
    """Whole cents, typed with a point or a comma."""

    def __init__(self, *, least: Decimal | int = 0, **options: Any) -> None:
        super().__init__(
            max_digits=9,
            decimal_places=2,
            min_value=Decimal(least),
            max_value=MOST_AT_ONCE,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            **options,
        )

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str):
            text = value.strip().replace("\u2212", "-")
            # Only where a comma can be nothing but the decimal mark.
            if re.fullmatch(r"-?[0-9]*,[0-9]{1,2}", text):
                text = text.replace(",", ".")
            value = text
        return super().to_python(value)


class WeightField(forms.CharField):
    """A weight such as "12.5", "12 g" or "0.4 oz", cleaned to grams with two places."""

    def __init__(
        self,
        *,
        least_g: Decimal = Decimal("0.01"),
        most_g: Decimal = Decimal(100_000),
        **options: Any,
    ) -> None:
        options.setdefault("max_length", 30)
        super().__init__(**options)
        self.least_g, self.most_g = least_g, most_g
        self.unit = "g"
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")

    def for_school(self, school: School) -> None:
        self.unit = "g" if Units(school.units) is Units.MM else "oz"
        words = "grams" if self.unit == "g" else "ounces"
        self.help_text = f"{self.help_text} A bare number is in {words}.".strip()

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        found = _WEIGHT.fullmatch(" ".join(text.lower().split()))
        word = found.group(2) or self.unit if found else ""
        unit = _WEIGHT_WORDS.get(word, word)
        if found is None or unit not in metals.GRAM_PER_UNIT:
            raise ValidationError("Give a weight such as 12.5 g or 0.4 oz.", code="weight")
        try:
            grams = metals.grams(Decimal(found.group(1).replace(",", ".")), unit)
            exact = grams.quantize(Decimal("0.01"))
        except InvalidOperation as error:
            raise ValidationError("Give a weight such as 12.5 g or 0.4 oz.") from error
        if not self.least_g <= exact <= self.most_g:
            least = "from 0" if not self.least_g else "above 0 and"
            raise ValidationError(
                f"Give a weight {least} up to {self.most_g / 1000:,.0f} kg.", code="weight"
            )
        return exact


class PointsField(forms.CharField):
    """Corners typed one per line as "x, y", each in the school's unit or with its own."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("max_length", 60_000)
        options.setdefault("widget", forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}))
        super().__init__(**options)
        self.units = Units.MM

    def for_school(self, school: School) -> None:
        self.units = Units(school.units)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        lines = [tidy(line) for line in text.splitlines()]
        filled = [(number, line) for number, line in enumerate(lines, start=1) if line]
        if len(filled) > MOST_CORNERS:
            raise ValidationError(f"Give at most {MOST_CORNERS} corners.")
        points = [self._corner(number, line) for number, line in filled]
        # A first corner repeated at the end closes the outline; so does leaving it out.
        return points[:-1] if len(points) > 3 and points[0] == points[-1] else points

    def _corner(self, number: int, line: str) -> tuple[float, float]:
        halves = re.split(r"\s*[;,]\s+|\s*;\s*|(?<=[a-z\"])\s*,\s*", line) or [line]
        if len(halves) != 2:
            halves = line.split(",") if line.count(",") == 1 else line.split()
        if len(halves) != 2:
            raise ValidationError(
                f"Line {number}, “{line[:30]}”, is not a corner: write x, y such as 120, 45."
            )
        try:
            x, y = (
                parse_length_mm(half, self.units.typed, least_mm=0, most_mm=4000) for half in halves
            )
        except LengthError as error:
            raise ValidationError(f"Line {number}: {error}") from error
        return x, y


class SentOnceForm(forms.Form):
    """Carries a key that is new each time the form is shown; see `SentForm`."""

    once = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["once"].initial = uuid.uuid4


def use_school(form: forms.BaseForm, school: School) -> None:
    """Tell every field which units the school types and which currency it counts in."""
    for name, field in form.fields.items():
        if isinstance(field, MoneyField):
            field.label = f"{field.label or pretty_name(name)} ({school.currency})"
        tell = getattr(field, "for_school", None)
        if tell is not None:
            tell(school)


def day_field(label: str, **options: Any) -> forms.DateField:
    """A day with the browser's own calendar; today unless said otherwise."""
    options.setdefault("initial", timezone.localdate)
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        **options,
    )


def sensible_day(day: Any) -> Any:
    """The day, refused where it lies before 1990 or after tomorrow."""
    if day is not None and not day.year >= 1990:
        raise ValidationError("Choose a day after 1990.")
    if day is not None and (day - timezone.localdate()).days > 1:
        raise ValidationError("That day is still to come.")
    return day


def begin_in_last(lines: forms.BaseFormSet[Any]) -> None:
    """The page opens at the line that was just added, ready to be typed in."""
    if lines.forms:
        first = lines.forms[-1].visible_fields()[0]
        first.field.widget.attrs["autofocus"] = True
