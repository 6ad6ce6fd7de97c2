"""The forms with which one named student is erased on request, and the request corrected."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone

from classroom.erasing import Request
from classroom.erasing.on_request import LEAST_SPELLING, MOST_SPELLINGS
from classroom.models import Erasure
from classroom.wording.typed_lines import tidy

from .course import day_field


class RequestForm(forms.Form):
    """Who asked that a student is erased, and on which day; not one to come."""

    asked_by = forms.ChoiceField(
        label="Who asks for it", choices=[("", "Choose"), *Erasure.AskedBy.choices]
    )
    asked_on = day_field("Asked for on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        today = timezone.localdate()
        self.fields["asked_on"].initial = today
        self.fields["asked_on"].widget.attrs["max"] = today.isoformat()

    def clean_asked_on(self) -> dt.date:
        asked_on: dt.date = self.cleaned_data["asked_on"]
        if asked_on > timezone.localdate():
            raise forms.ValidationError("That day is still to come.")
        return asked_on


class CorrectRequestForm(RequestForm):
    reason = forms.CharField(
        label="What was wrong",
        max_length=200,
        help_text="Without the name.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class EraseForm(RequestForm):
    spellings = forms.CharField(
        label="Other spellings to look for",
        required=False,
        max_length=200,
        help_text="With commas between them, such as a nickname or the whole name, as somebody may "
        "have typed it in a remark. Each is replaced in every text of the school.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    remark = forms.CharField(
        label="Remark for the record",
        required=False,
        max_length=200,
        help_text="Such as where the letter is kept. Without the name.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    typed = forms.CharField(
        label="Type the name or the user name",
        max_length=80,
        help_text="So that nobody is erased by a slip.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_remark(self) -> str:
        return tidy(self.cleaned_data["remark"])

    def clean_spellings(self) -> tuple[str, ...]:
        typed = tidy(self.cleaned_data["spellings"])
        found = [word for word in (" ".join(one.split()) for one in typed.split(",")) if word]
        if len(found) > MOST_SPELLINGS:
            raise forms.ValidationError(f"Give {MOST_SPELLINGS} spellings at most.")
        for word in found:
            if len(word) < LEAST_SPELLING:
                raise forms.ValidationError(
                    f"“{word}” is too short to be looked for in every text: give at least "
                    f"{LEAST_SPELLING} letters."
                )
        return tuple(dict.fromkeys(found))

    @property
    def request(self) -> Request:
        said = self.cleaned_data
        return Request(said["asked_by"], said["asked_on"], said["remark"], said["spellings"])
