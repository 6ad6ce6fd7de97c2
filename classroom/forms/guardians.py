"""Forms that record signed guardian forms, and that ask for permits again."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from classroom.models import BenchPermit, School, User
from classroom.wording.typed_lines import plain_line

from .course import day_field


class SignaturesForm(forms.Form):
    students = forms.ModelMultipleChoiceField(
        queryset=User.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the students whose signed form you hold."},
    )
    signed_on = day_field("Date beside the signature")

    def __init__(self, *args: Any, students: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["students"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = students
        self.fields["signed_on"].initial = timezone.localdate
        self.fields["signed_on"].widget.attrs["max"] = timezone.localdate().isoformat()


class TakeBackForm(forms.Form):
    reason = forms.CharField(
        max_length=200,
        help_text="Such as “The family has asked for it”. No health matters, please.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class AskAgainForm(forms.Form):
    """Which permits a student has to earn again, and why."""

    permits = forms.ModelMultipleChoiceField(
        queryset=BenchPermit.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        label="Permits to earn again",
        error_messages={"required": "Tick at least one permit."},
    )
    reason = forms.CharField(
        max_length=200,
        help_text="The student reads it. No health matters, please.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, permits: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["permits"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = permits
        field.label_from_instance = lambda obj: (  # type: ignore[method-assign]
            f"{obj.topic}, until {obj.expires_on:%d %b %Y}"
        )
        field.initial = [permit.pk for permit in permits]
        weeks = school.retest_after_weeks
        since = "a week" if weeks == 1 else f"{weeks} weeks"
        self.fields["reason"].initial = f"Away for more than {since}"

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
