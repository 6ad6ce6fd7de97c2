"""Which course's briefs are copied."""

from __future__ import annotations

from typing import Any

from django import forms

from classroom.models import Course, User
from classroom.queries import courses_for


class CourseWithTerm(forms.ModelChoiceField[Course]):
    def label_from_instance(self, obj: Course) -> str:
        return f"{obj}, {obj.term}"


class CopyBriefsForm(forms.Form):
    source = CourseWithTerm(
        label="Copy the briefs of", queryset=Course.objects.none(), empty_label="Choose …"
    )

    def __init__(self, *args: Any, target: Course, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["source"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = (
            courses_for(acting).filter(briefs__isnull=False).exclude(pk=target.pk).distinct()
        )
