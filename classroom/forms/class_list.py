"""Forms of the class list: names to add, one student's entry, a move."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from classroom.models import Course, User
from classroom.people.roster import BYTES_MOST, ID_LONGEST, Roster, decode, read_roster
from classroom.queries import courses_for
from classroom.refusals import Refused
from classroom.wording.typed_lines import plain_line, tidy


class AddStudentsForm(forms.Form):
    """Names typed, pasted or uploaded; `roster` holds what was read once the form is valid."""

    names = forms.CharField(
        label="Names",
        required=False,
        max_length=200_000,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "autocomplete": "off"}),
        help_text="One a line, “Wren Tidewell” or “Tidewell, Wren”; or cells copied out of a "
        "spreadsheet, with a first line that names the columns.",
    )
    file = forms.FileField(
        label="Or a CSV file",
        required=False,
        allow_empty_file=True,
        help_text="Its first line names the columns: name, or givenName and familyName; id and "
        "section where you have them. Files in OneRoster format (users.csv) can be read as they "
        "are. All other columns are dropped unread.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
    )
    only_section = forms.CharField(
        label="Only this section",
        required=False,
        max_length=40,
        help_text="For a list of several classes with a section column. Empty takes every line.",
    )
    keep = forms.ChoiceField(
        label="Kept of each name",
        choices=[
            ("short", "First name and initial, such as “Wren T” (enough for a class)"),
            ("full", "The whole name, as it stands in the list"),
        ],
        initial="short",
        widget=forms.RadioSelect,
        required=False,
    )

    roster: Roster

    def clean(self) -> dict[str, Any]:
        super().clean()
        if self.errors:
            return self.cleaned_data
        names, file = self.cleaned_data["names"], self.cleaned_data["file"]
        if bool(names.strip()) == bool(file):
            self.add_error(
                "names",
                "Type names or choose a file; one of the two, not both."
                if file
                else "Type at least one name, or choose a file.",
            )
            return self.cleaned_data
        try:
            text = decode(file.read(BYTES_MOST + 1)) if file else names
            self.roster = read_roster(
                text,
                only_section=self.cleaned_data["only_section"],
                short_names=self.cleaned_data["keep"] != "full",
            )
        except Refused as refusal:
            self.add_error("file" if file else "names", str(refusal))
        return self.cleaned_data


class StudentForm(forms.ModelForm[User]):
    class Meta:
        model = User
        fields = ["display_name", "roster_id"]
        labels = {"display_name": "Name", "roster_id": "Class list id"}
        help_texts = {
            "display_name": "First name and initial are enough.",
            "roster_id": "As the school's own lists have it. May stay empty.",
        }

    def clean_display_name(self) -> str:
        return plain_line(self.cleaned_data["display_name"])

    def clean_roster_id(self) -> str:
        said = tidy(self.cleaned_data["roster_id"])[:ID_LONGEST]
        if said.startswith(("=", "+", "-", "@")):
            raise ValidationError("An id does not begin with a sign that spreadsheets calculate.")
        others = User.objects.filter(school=self.instance.school, roster_id=said)
        if said and others.exclude(pk=self.instance.pk).exists():
            raise ValidationError("Somebody else at this school has this id.")
        return said


class MoveForm(forms.Form):
    course = forms.ModelChoiceField(
        queryset=Course.objects.none(), label="To the course", empty_label="Choose a course"
    )

    def __init__(self, *args: Any, acting: User, away_from: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["course"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = courses_for(acting).running().exclude(pk=away_from.pk)
