"""Forms of safety topics and bench permits."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from classroom.models import Topic, User
from classroom.safety.topics import DAYS_MOST, Wording
from classroom.wording.typed_lines import lines_of, plain_line, tidy

from .course import day_field

LINES_MOST = 30
LINE_LONGEST = 300


class LinesField(forms.CharField):
    """A text box whose filled lines are the value: a list of strings."""

    widget = forms.Textarea
    most = LINES_MOST

    def to_python(self, value: object) -> Any:
        text = value if isinstance(value, str) else ""
        return lines_of(text, most=self.most, longest=LINE_LONGEST)

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list) else value

    def validate(self, value: Any) -> None:
        if not value and self.required:
            raise forms.ValidationError("Write at least one line.")

    def run_validators(self, value: Any) -> None:
        """The bounds are those of `lines_of`; there is no single text to validate."""


class TopicForm(forms.Form):
    title = forms.CharField(max_length=80, help_text="Such as “Drill press”.")
    lesson = LinesField(
        help_text="What is taught, a point a line.", widget=forms.Textarea(attrs={"rows": 9})
    )
    checks = LinesField(
        label="Practical checks",
        help_text="What the teacher watches the student do, a point a line.",
        widget=forms.Textarea(attrs={"rows": 7}),
    )
    valid_days = forms.IntegerField(
        label="Permits last, days",
        min_value=1,
        max_value=DAYS_MOST,
        help_text="126 days are an 18-week term, 365 a year.",
    )
    asks_questions = forms.BooleanField(
        label="A permit asks that the student has passed the questions",
        required=False,
        help_text="Where the topic has questions. You can still give one without, with a reason.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1)

    def clean_title(self) -> str:
        return plain_line(self.cleaned_data["title"])

    def wording(self) -> Wording:
        said = self.cleaned_data
        return Wording(
            said["title"],
            said["lesson"],
            said["checks"],
            said["valid_days"],
            asks_questions=said["asks_questions"],
        )

    @staticmethod
    def of(topic: Topic) -> dict[str, Any]:
        """The form's starting values for a topic."""
        names = ("title", "lesson", "checks", "valid_days", "asks_questions", "version")
        return {name: getattr(topic, name) for name in names}


class PermitForm(forms.Form):
    """One topic for several students of a course."""

    students = forms.ModelMultipleChoiceField(
        queryset=User.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the students who showed you the checks."},
    )
    on = day_field("Watched on")
    remark = forms.CharField(
        required=False, max_length=200, help_text="Such as “left hand, own clamp”. May stay empty."
    )
    watched = forms.BooleanField(
        label="I watched each of them do the practical checks above.",
        error_messages={"required": "A permit says that you watched. Tick this when you did."},
    )
    in_spite_of = forms.CharField(
        label="Why you give it without what is missing",
        required=False,
        max_length=200,
        help_text="Only where a student above lacks something. It stays on record with the permit.",
    )

    def __init__(self, *args: Any, students: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["students"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = students
        self.fields["on"].initial = timezone.localdate
        self.fields["on"].widget.attrs["max"] = timezone.localdate().isoformat()

    def clean_remark(self) -> str:
        return tidy(self.cleaned_data["remark"])

    def clean_in_spite_of(self) -> str:
        return tidy(self.cleaned_data["in_spite_of"])


class WithdrawForm(forms.Form):
    reason = forms.CharField(
        max_length=200,
        help_text="The student reads it. Say what has to be shown again.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
