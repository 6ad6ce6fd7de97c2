"""What the rack's list is narrowed by."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.forms.lengths import LengthField, use_units
from classroom.models import User
from inventory.models import Metal, StockPiece

SORTS = {
    "metal": ("Metal and label", ["metal__alloy_code", "metal__thickness_mm", "kind", "code"]),
    "large": ("Largest first", ["-area_mm2", "pk"]),
    "small": ("Smallest first", ["area_mm2", "pk"]),
    "new": ("Newest first", ["-received_at", "-pk"]),
    "old": ("Oldest first", ["received_at", "pk"]),
}


class RackFilter(forms.Form):
    metal = forms.ModelChoiceField(
        queryset=Metal.objects.none(), required=False, empty_label="All metals"
    )
    kind = forms.ChoiceField(
        choices=[("", "Sheets and offcuts"), *StockPiece.Kind.choices], required=False
    )
    state = forms.ChoiceField(
        choices=[("", "All in the school"), *StockPiece.State.choices], required=False
    )
    width = LengthField(label="At least so wide", required=False, least_mm=0, most_mm=4000)
    length = LengthField(label="And at least so long", required=False, least_mm=0, most_mm=4000)
    search = forms.CharField(label="Label or place", max_length=60, required=False)
    sort = forms.ChoiceField(
        label="Order", choices=[(key, words) for key, (words, _) in SORTS.items()], required=False
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school)
        use_units(self, acting.school)
