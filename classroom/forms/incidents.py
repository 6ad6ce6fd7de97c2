"""The form of an incident or near miss: fixed, small, and without a place for health matters."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from classroom.models import Course, Incident, Seat, Topic, User
from classroom.queries import courses_for, seats_for
from classroom.wording.typed_lines import plain_line, tidy

NO_HEALTH = (
    "No medical details and no names: the school's own accident form is the place for those."
)


class IncidentForm(forms.Form):
    kind = forms.ChoiceField(label="What kind", choices=Incident.Kind, widget=forms.RadioSelect)
    happened_at = forms.DateTimeField(
        label="When",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    place = forms.CharField(
        label="Where", max_length=120, help_text="Such as “drill press, bay 2”."
    )
    course = forms.ModelChoiceField(
        queryset=Course.objects.none(), required=False, empty_label="None"
    )
    topic = forms.ModelChoiceField(
        label="Topic", queryset=Topic.objects.none(), required=False, empty_label="None"
    )
    tool = forms.CharField(
        label="Tool or substance", max_length=120, required=False, help_text="Where it helps."
    )
    what = forms.CharField(
        label="What happened",
        max_length=1500,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text=f"In plain words: what was done, what gave way. {NO_HEALTH}",
    )
    told = forms.CharField(
        label="Who was told",
        max_length=300,
        help_text="By their office, such as “school office, head of department”.",
    )
    changed = forms.CharField(
        label="What was changed",
        max_length=800,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="So that it does not happen again. May follow later as a correction.",
    )
    seats = forms.ModelMultipleChoiceField(
        label="Students who were there",
        queryset=Seat.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Only where it is needed, such as to ask for a permit again.",
    )

    def __init__(
        self, *args: Any, acting: User, incident: Incident | None = None, **kwargs: Any
    ) -> None:
        """`incident` is the one to be corrected: what it names can be kept by anybody."""
        super().__init__(*args, **kwargs)
        courses = self.fields["course"]
        topics = self.fields["topic"]
        seats = self.fields["seats"]
        assert isinstance(courses, forms.ModelChoiceField)
        assert isinstance(topics, forms.ModelChoiceField)
        assert isinstance(seats, forms.ModelMultipleChoiceField)
        named = [seat.pk for seat in incident.seats.all()] if incident else []
        own = courses_for(acting).values("pk")
        courses.queryset = Course.objects.filter(
            Q(pk__in=own) | Q(pk=incident.course_id if incident else None)
        )
        topics.queryset = Topic.objects.filter(school=acting.school)
        open_seats = seats_for(acting).filter(course__closed_at=None).values("pk")
        seats.queryset = Seat.objects.filter(Q(pk__in=open_seats) | Q(pk__in=named)).select_related(
            "student", "course"
        )
        seats.label_from_instance = lambda obj: (  # type: ignore[method-assign]
            f"{obj.student.display_name} ({obj.course})"
        )
        if incident is None:
            self.fields["happened_at"].initial = timezone.localtime()

    def clean_happened_at(self) -> dt.datetime:
        when: dt.datetime = self.cleaned_data["happened_at"]
        if when.year < 2000:
            raise forms.ValidationError("Type the day on which it happened.")
        return when

    def clean_place(self) -> str:
        return plain_line(self.cleaned_data["place"])

    def clean_tool(self) -> str:
        return tidy(self.cleaned_data["tool"])

    def clean_told(self) -> str:
        return plain_line(self.cleaned_data["told"])

    def clean_what(self) -> str:
        return _lines(self.cleaned_data["what"])

    def clean_changed(self) -> str:
        return _lines(self.cleaned_data["changed"])

    def stored(self) -> dict[str, Any]:
        names = ("kind", "happened_at", "place", "course", "topic", "tool", "what", "told")
        return {name: self.cleaned_data[name] for name in (*names, "changed")}

    @staticmethod
    def of(incident: Incident) -> dict[str, Any]:
        names = ("kind", "place", "course", "topic", "tool", "what", "told", "changed")
        return {name: getattr(incident, name) for name in names} | {
            "happened_at": timezone.localtime(incident.happened_at),
            "seats": [seat.pk for seat in incident.seats.all()],
        }


class CorrectionForm(IncidentForm):
    reason = forms.CharField(
        label="What was wrong before", max_length=200, help_text="Stands with the correction."
    )

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


def _lines(text: str) -> str:
    """Tidied line by line; empty lines go."""
    return "\n".join(line for line in map(tidy, text.splitlines()) if line)
