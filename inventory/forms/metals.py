"""Forms of the metals' list: a new metal, a dated price."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms

from classroom.figures.units import Units, format_length
from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.wording.typed_lines import plain_line, tidy
from inventory import metals
from inventory.buying.prices import last_per_mm2, prices_before
from inventory.metals.thicknesses import (
    EXAMPLES,
    ThicknessUnreadable,
    TypedThickness,
    read_thickness,
)
from inventory.models import Metal, MetalPrice
from inventory.plausible import Doubt, price_doubt
from inventory.rack.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM

from .asking import AskingForm
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


class PriceForm(AskingForm, SentOnceForm):
    amount = MoneyField(label="Price of one sheet")
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    dated = day_field("Price of the day")
    remark = forms.CharField(
        max_length=120, required=False, help_text="Where from: a receipt, a quotation …"
    )

    def __init__(
        self,
        *args: Any,
        acting: User,
        metal: Metal,
        corrects: MetalPrice | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.metal, self.corrects, self.currency = metal, corrects, acting.school.currency
        use_school(self, acting.school)
        last = prices_before(metal, corrects).first()
        if last is not None:
            size = " × ".join(
                format_length(side, acting.school.units) for side in (last.width_mm, last.height_mm)
            )
            self.fields[
                "amount"
            ].help_text = f"The last one: {last.amount:,.2f} {self.currency} for {size}."

    def doubts(self) -> Sequence[Doubt]:
        data = self.cleaned_data
        area = data["width"] * data["height"]
        doubt = price_doubt(
            "amount",
            data["amount"] / area,
            last_per_mm2(self.metal, besides=self.corrects),
            area_mm2=area,
            currency=self.currency,
        )
        return [doubt] if doubt and not data.get("withdrawn") else []

    def clean_dated(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["dated"])
        return day

    def clean_remark(self) -> str:
        return tidy(self.cleaned_data["remark"])


class CorrectPriceForm(PriceForm):
    """What a price that was written down should have been, or that there was none."""

    withdrawn = forms.BooleanField(label="There was no such price: take it off", required=False)
    reason = forms.CharField(label="What was wrong", max_length=160)

    def __init__(self, *args: Any, corrects: MetalPrice, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "amount": corrects.amount,
            "width": corrects.width_mm,
            "height": corrects.height_mm,
            "dated": corrects.dated,
            "remark": corrects.remark,
        }
        super().__init__(*args, corrects=corrects, metal=corrects.metal, **kwargs)

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
