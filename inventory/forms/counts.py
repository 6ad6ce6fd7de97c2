"""Forms of a stock count: begin, add what is not on the list, book, call off."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import User
from classroom.wording.typed_lines import plain_line, tidy
from inventory.models import Metal


class OpenCountForm(forms.Form):
    metal = forms.ModelChoiceField(
        label="Count",
        queryset=Metal.objects.none(),
        required=False,
        empty_label="the whole rack",
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school)


class AddPieceForm(forms.Form):
    code = forms.CharField(label="Its label", max_length=24)
    lies_in = forms.CharField(label="Where it lies", max_length=60, required=False)

    def clean_lies_in(self) -> str:
        return tidy(self.cleaned_data["lies_in"])


class BookForm(forms.Form):
    reason = forms.CharField(
        label="Why there are differences",
        max_length=120,
        required=False,
        help_text="Needed only where there are some. Such as “end of term, drawers tidied”.",
    )

    def clean_reason(self) -> str:
        text = self.cleaned_data["reason"]
        return plain_line(text) if text.strip() else ""


class CallOffForm(forms.Form):
    why_off = forms.CharField(label="Why", max_length=120)

    def clean_why_off(self) -> str:
        return plain_line(self.cleaned_data["why_off"])
