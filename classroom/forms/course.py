"""The form of one course."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from classroom.models import Course, Role, User
from classroom.wording.typed_lines import plain_line, tidy

LONGEST_TERM = dt.timedelta(days=3 * 366)


def day_field(label: str, **more: Any) -> forms.DateField:
    return forms.DateField(
        label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **more
    )


class CourseForm(forms.ModelForm[Course]):
    starts_on = day_field("First day")
    ends_on = day_field("Last day")
    teachers = forms.ModelMultipleChoiceField(
        queryset=User.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text="They see and change everything in this course.",
    )

    class Meta:
        model = Course
        fields = ["title", "section", "term", "starts_on", "ends_on"]
        help_texts = {"title": "Such as “Metals 1”."}

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            self.instance.school = acting.school
        field = self.fields["teachers"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = User.objects.filter(
            school=acting.school, role=Role.TEACHER, is_active=True
        ).order_by("display_name", "pk")
        field.initial = (
            [acting.pk] if self.instance.pk is None else list(self.instance.teachers.all())
        )

    def clean_title(self) -> str:
        return plain_line(self.cleaned_data["title"])

    def clean_term(self) -> str:
        return plain_line(self.cleaned_data["term"])

    def clean_section(self) -> str:
        return tidy(self.cleaned_data["section"])

    def clean(self) -> dict[str, Any]:
        super().clean()
        first, last = self.cleaned_data.get("starts_on"), self.cleaned_data.get("ends_on")
        for name, day in (("starts_on", first), ("ends_on", last)):
            if day and not 2000 <= day.year <= 2100:
                self.add_error(name, "Choose a day between 2000 and 2100.")
        if first and last and last < first:
            self.add_error("ends_on", "The last day comes after the first.")
        elif first and last and last - first > LONGEST_TERM:
            self.add_error("ends_on", "A course lasts at most three years.")
        return self.cleaned_data

    def _get_validation_exclusions(self) -> set[str]:
        # The school is no field of the form, but takes part in the rule "one course per term".
        excluded: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]
        return excluded - {"school"}
