"""The teacher's decision on one pattern, or on several clean ones."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.db.models import QuerySet

from classroom.models import Course
from studio.models import Brief


class AnswerForm(forms.Form):
    """`decision` comes from the button that was pressed."""

    APPROVE, RETURN = "approve", "return"

    remark = forms.CharField(
        label="Remark to the student",
        max_length=1000,
        required=False,
        strip=True,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Needed when you hand the pattern back: say what to change.",
    )
    place_now = forms.BooleanField(
        label="Start placing it on metal at once",
        required=False,
        initial=True,
        help_text="Leave it off to place several projects together later.",
    )
    decision = forms.ChoiceField(
        choices=[(APPROVE, "approve"), (RETURN, "return")], widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        if cleaned.get("decision") == self.RETURN and not cleaned.get("remark"):
            self.add_error("remark", "Write what the student should change.")
        return cleaned


class SeveralForm(forms.Form):
    """Approve several looked-at patterns, and say how they are placed."""

    ALONE, TOGETHER, LATER = "alone", "together", "later"

    placing = forms.ChoiceField(
        label="Then place them",
        choices=[
            (ALONE, "each in a cut plan of its own"),
            (TOGETHER, "those of one course and metal together"),
            (LATER, "later, when I choose"),
        ],
        initial=ALONE,
    )


class WaitingFilter(forms.Form):
    """Narrow the queue of waiting patterns."""

    course = forms.ModelChoiceField(
        Course.objects.none(), required=False, empty_label="All courses"
    )
    brief = forms.ModelChoiceField(Brief.objects.none(), required=False, empty_label="All briefs")

    def __init__(
        self, *args: Any, courses: QuerySet[Course], briefs: QuerySet[Brief], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("course", courses), ("brief", briefs)):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows
