"""Forms of the budget and of the scrap boxes."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from classroom.models import User
from classroom.texts import plain_line
from inventory import metals

from .fields import MoneyField, SentOnceForm, WeightField, use_school


class AllotForm(SentOnceForm):
    direction = forms.ChoiceField(
        label="What happens",
        choices=[("in", "Put money in"), ("back", "Take unused money back")],
        initial="in",
        widget=forms.RadioSelect,
    )
    amount = MoneyField(least=Decimal("0.01"))
    reason = forms.CharField(label="Why", max_length=160)

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_school(self, acting.school)

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    @property
    def signed(self) -> Decimal:
        """The amount, negative where money is taken back. Only after `is_valid`."""
        amount: Decimal = self.cleaned_data["amount"]
        return amount if self.cleaned_data["direction"] == "in" else -amount


class CorrectWeighingForm(forms.Form):
    weight = WeightField(label="What the scales should have said")
    reason = forms.CharField(label="Why", max_length=120)

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_school(self, acting.school)

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class WeighForm(SentOnceForm):
    direction = forms.ChoiceField(
        label="What happens",
        choices=[
            ("in", "Scrap goes into the box"),
            ("out", "Metal leaves the box (sold, recycled, melted)"),
        ],
        initial="in",
        widget=forms.RadioSelect,
    )
    alloy_code = forms.ChoiceField(
        label="Alloy", choices=[(alloy.code, alloy.name) for alloy in metals.ALLOYS]
    )
    weight = WeightField(label="Weight on the scale")
    reason = forms.CharField(
        label="Why", max_length=160, help_text="Such as “bench trays emptied” or “sold”."
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_school(self, acting.school)

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
