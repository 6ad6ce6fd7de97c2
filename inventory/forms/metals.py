"""Forms of the metals' list: a new metal, a dated price."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.texts import tidy
from classroom.units import Units
from inventory import metals
from inventory.models import Metal
from inventory.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM
from inventory.thicknesses import EXAMPLES, ThicknessUnreadable, TypedThickness, read_thickness

from .fields import MoneyField, SentOnceForm, day_field, sensible_day, use_school


class MetalForm(forms.ModelForm[Metal]):
    alloy_code = forms.ChoiceField(
        label="Alloy", choices=[(alloy.code, alloy.name) for alloy in metals.ALLOYS]
    )
    thickness = forms.CharField(max_length=40, help_text=EXAMPLES)

    class Meta:
        model = Metal
        fields = ["temper"]

    field_order = ["alloy_code", "thickness", "temper"]

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.school = acting.school
        self.units = Units(acting.school.units)
        self.typed: TypedThickness | None = None

    def clean(self) -> dict[str, Any]:
        super().clean()
        data = self.cleaned_data
        if "alloy_code" in data and "thickness" in data:
            try:
                self.typed = read_thickness(data["thickness"], data["alloy_code"], self.units.typed)
            except ThicknessUnreadable as error:
                self.add_error("thickness", str(error))
            else:
                self.instance.alloy_code = data["alloy_code"]
                self.instance.thickness_mm = self.typed.mm
        return data

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.typed is not None and not self.errors:
            same = Metal.objects.filter(
                school=self.instance.school,
                alloy_code=self.instance.alloy_code,
                thickness_mm=self.instance.thickness_mm,
                temper=self.instance.temper,
            ).first()
            if same is not None:
                state = " It was taken off the list; put it back on." if same.retired_at else ""
                self.add_error(None, f"That metal is on the list already: {same}.{state}")


class PriceForm(SentOnceForm):
    amount = MoneyField(label="Price of one sheet")
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    dated = day_field("Price of the day")
    remark = forms.CharField(
        max_length=120, required=False, help_text="Where from: a receipt, a quotation …"
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_school(self, acting.school)

    def clean_dated(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["dated"])
        return day

    def clean_remark(self) -> str:
        return tidy(self.cleaned_data["remark"])
