"""Forms of an order: its head, its lines, and closing it before all has come."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.wording.typed_lines import plain_line, tidy
from inventory.buying.ordering import OrderLine
from inventory.buying.sheet_line import MOST_LINES, MOST_SHEETS
from inventory.models import Metal
from inventory.rack.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM

from .fields import SentOnceForm, day_field, sensible_day, use_school


class OrderForm(SentOnceForm):
    ordered_on = day_field("Ordered on")
    seller = forms.CharField(label="Ordered from", max_length=120, required=False)
    reference = forms.CharField(label="Order number", max_length=60, required=False)

    def clean_ordered_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["ordered_on"])
        return day

    def clean_seller(self) -> str:
        return tidy(self.cleaned_data["seller"])

    def clean_reference(self) -> str:
        return tidy(self.cleaned_data["reference"])


class OrderLineForm(forms.Form):
    metal = forms.ModelChoiceField(queryset=Metal.objects.none(), empty_label="Choose …")
    count = forms.IntegerField(label="Sheets", min_value=1, max_value=MOST_SHEETS, initial=1)
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school, retired_at=None)
        use_school(self, acting.school)

    def has_changed(self) -> bool:
        return bool({"metal", "width", "height"} & set(self.changed_data))

    def wanted(self) -> OrderLine:
        """What was typed. Only after `is_valid`."""
        data = self.cleaned_data
        return OrderLine(data["metal"], data["count"], data["width"], data["height"])


class OrderLinesBase(BaseFormSet[OrderLineForm]):
    def clean(self) -> None:
        if not any(self.errors) and not self.filled():
            raise forms.ValidationError("Fill in at least one line.")

    def filled(self) -> list[OrderLineForm]:
        """The lines in which something was typed."""
        return [form for form in self.forms if form.has_changed()]


OrderLines = formset_factory(
    OrderLineForm,
    formset=OrderLinesBase,
    extra=1,
    max_num=MOST_LINES,
    validate_max=True,
    absolute_max=MOST_LINES,
)


class CloseOrderForm(forms.Form):
    reason = forms.CharField(label="Why nothing more is to come", max_length=120)

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
