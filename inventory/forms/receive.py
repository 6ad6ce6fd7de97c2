"""Receiving a purchase: a head and several lines in one form."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.texts import tidy
from inventory.models import Metal
from inventory.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM
from inventory.stock import MOST_LINES, MOST_SHEETS, SheetLine

from .fields import MoneyField, SentOnceForm, day_field, sensible_day, use_school


class PurchaseForm(SentOnceForm):
    bought_on = day_field("Bought on")
    seller = forms.CharField(label="Bought from", max_length=120, required=False)
    reference = forms.CharField(label="Receipt or order number", max_length=60, required=False)
    keep_prices = forms.BooleanField(
        label="Write these prices down as the metals' prices of that day",
        required=False,
        initial=True,
    )

    def clean_bought_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["bought_on"])
        return day

    def clean_seller(self) -> str:
        return tidy(self.cleaned_data["seller"])

    def clean_reference(self) -> str:
        return tidy(self.cleaned_data["reference"])


class LineForm(forms.Form):
    metal = forms.ModelChoiceField(queryset=Metal.objects.none(), empty_label="Choose …")
    count = forms.IntegerField(label="Sheets", min_value=1, max_value=MOST_SHEETS, initial=1)
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    price = MoneyField()
    price_of = forms.ChoiceField(
        label="Price of",
        choices=[("each", "one sheet"), ("line", "all sheets of this line")],
        initial="each",
    )
    measured = LengthField(
        label="Caliper reading",
        least_mm=0.05,
        most_mm=10,
        required=False,
        help_text="Thickness of the sheet as measured. Gauges disagree; a caliper does not.",
    )
    place = forms.CharField(label="Where it lies", max_length=60, required=False)

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school, retired_at=None)
        use_school(self, acting.school)
        unit = self.fields["width"].units.typed  # type: ignore[attr-defined]
        self.fields["width"].label = f"Width ({unit})"
        self.fields["height"].label = f"Height ({unit})"

    def has_changed(self) -> bool:
        # Sheets and "price of" carry a value from the start; a line is filled by the others.
        filled = {"metal", "width", "height", "price", "measured", "place"}
        return bool(filled & set(self.changed_data))

    def clean_place(self) -> str:
        return tidy(self.cleaned_data["place"])

    def line(self) -> SheetLine:
        """What was typed, as the rack takes it. Only after `is_valid`."""
        data = self.cleaned_data
        total = data["price"] * (data["count"] if data["price_of"] == "each" else 1)
        return SheetLine(
            metal=data["metal"],
            count=data["count"],
            width_mm=data["width"],
            height_mm=data["height"],
            total=total,
            measured_mm=data["measured"],
            place=data["place"],
        )


class LineFormSetBase(BaseFormSet[LineForm]):
    def clean(self) -> None:
        if not any(self.errors) and not self.filled():
            raise forms.ValidationError("Fill in at least one line.")

    def filled(self) -> list[LineForm]:
        """The lines in which something was typed."""
        return [form for form in self.forms if form.has_changed()]


LineFormSet = formset_factory(
    LineForm,
    formset=LineFormSetBase,
    extra=1,
    max_num=MOST_LINES,
    validate_max=True,
    absolute_max=MOST_LINES,
)
