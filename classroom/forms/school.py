"""Forms of the school: its first run, its settings, its teachers."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from functools import cache
from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Role, School, User
from classroom.papers.addresses import tidy_address
from classroom.signin import wait_in_words
from classroom.signin.first_run_code import code_is_right, wanted_code
from classroom.wording.typed_lines import plain_line

from .sign_in import clean_new_passphrase, passphrase_field


@cache
def zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Time zones by region, as the choices of a select."""
    regions: dict[str, list[tuple[str, str]]] = {}
    for name in sorted(zoneinfo.available_timezones()):
        region, _, place = name.partition("/")
        known = {"Africa", "America", "Asia", "Atlantic", "Australia", "Europe", "Indian"}
        if region in known | {"Pacific"} and place:
            regions.setdefault(region, []).append((name, place.replace("_", " ")))
    return [("Any", [("UTC", "UTC")]), *regions.items()]


class CapitalsField(forms.CharField):
    def to_python(self, value: object) -> str:
        return (super().to_python(value) or "").upper()


class SchoolForm(forms.ModelForm[School]):
    currency = CapitalsField(
        max_length=3,
        initial="USD",
        help_text="Three letters, such as USD, CAD or EUR.",
        widget=forms.TextInput(attrs={"size": 4, "autocapitalize": "characters"}),
    )
    time_zone = forms.ChoiceField(
        choices=zones, initial="UTC", help_text="The clock on the classroom wall."
    )

    class Meta:
        model = School
        fields = [
            "name",
            "currency",
            "units",
            "paper",
            "language",
            "time_zone",
            "address_for_students",
            "asks_guardian",
            "retest_after_weeks",
            "keep_years",
            "local_rules",
        ]
        labels = {"name": "Name of the school", "local_rules": "The school's own rules"} | {
            "language": "Language of safety texts and prints",
        }
        help_texts = {
            "units": "How lengths and weights are shown. Both can be typed anywhere.",
            "paper": "What the printer in the classroom holds.",
        }
        widgets = {
            "local_rules": forms.Textarea(attrs={"rows": 6}),
            "address_for_students": forms.TextInput(
                attrs={"inputmode": "url", "autocapitalize": "none", "spellcheck": "false"}
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields[
                "currency"
            ].help_text = (
                "Three letters. Changing them converts nothing: amounts keep their figures."
            )
        for name in ("language", "retest_after_weeks", "keep_years"):
            if name in self.fields:
                self.fields[name].required = False
        zone = self.instance.time_zone
        field = self.fields["time_zone"]
        assert isinstance(field, forms.ChoiceField)
        if zone and not any(zone == name for _, names in zones() for name, _ in names):
            # Kept from elsewhere, such as an older spelling: saving must not lose it.
            field.choices = [("In use", [(zone, zone)]), *zones()]

    def clean_name(self) -> str:
        return plain_line(self.cleaned_data["name"])

    def clean_address_for_students(self) -> str:
        return tidy_address(self.cleaned_data["address_for_students"])

    def clean_language(self) -> str:
        return self.cleaned_data["language"] or self.instance.language

    def clean_retest_after_weeks(self) -> int:
        weeks = self.cleaned_data["retest_after_weeks"]
        return self.instance.retest_after_weeks if weeks is None else int(weeks)

    def clean_keep_years(self) -> int:
        years = self.cleaned_data["keep_years"]
        return self.instance.keep_years if years is None else int(years)


class FirstRunForm(SchoolForm):
    """The school and its first teacher, who looks after the settings."""

    display_name = forms.CharField(
        label="Your name", max_length=80, help_text="As students see it, such as “Marit Quay”."
    )
    username = forms.CharField(
        label="Your user name",
        max_length=40,
        help_text="Small letters, digits, dots and hyphens.",
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "spellcheck": "false", "autocomplete": "username"}
        ),
    )
    new = passphrase_field(
        "Passphrase",
        new=True,
        help_text="At least 10 characters. There is no e-mail here that could bring it back: "
        "keep it somewhere.",
    )
    again = passphrase_field("Passphrase once more", new=True)
    code = forms.CharField(
        label=gettext_lazy("Code from the server"),
        max_length=40,
        help_text=gettext_lazy(
            "Ten letters and digits. The server printed them when it was started, beside its "
            "address."
        ),
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "spellcheck": "false", "autocomplete": "off"}
        ),
    )

    class Meta(SchoolForm.Meta):
        fields = ["name", "currency", "units", "paper", "language", "time_zone"]

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        zone = self.fields["time_zone"]
        assert isinstance(zone, forms.ChoiceField)
        # Nobody gets UTC by not looking; a script proposes the computer's own zone.
        zone.choices = [("", "Choose …"), *zones()]
        zone.initial = self.initial["time_zone"] = ""
        if not wanted_code():
            del self.fields["code"]

    def clean_code(self) -> str:
        typed = str(self.cleaned_data["code"])
        answer = code_is_right(self.request, typed)
        if isinstance(answer, dt.timedelta):
            text = _("There were too many tries with a wrong code. Wait %(time)s and try again.")
            raise forms.ValidationError(text % {"time": wait_in_words(answer)})
        if not answer:
            raise forms.ValidationError(
                _("This is not the code that the server printed. Start it again for a new one.")
            )
        return typed

    def clean_display_name(self) -> str:
        return plain_line(self.cleaned_data["display_name"])

    def clean_username(self) -> str:
        name = str(self.cleaned_data["username"]).strip().lower()
        User._meta.get_field("username").run_validators(name)
        return name

    def clean(self) -> dict[str, Any]:
        super().clean()
        person = User(
            username=self.cleaned_data.get("username", ""),
            display_name=self.cleaned_data.get("display_name", ""),
        )
        clean_new_passphrase(self, person)
        return self.cleaned_data


class TeacherForm(forms.ModelForm[User]):
    class Meta:
        model = User
        fields = ["display_name", "keeps_school"]

    def clean_display_name(self) -> str:
        return plain_line(self.cleaned_data["display_name"])

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.instance.role = Role.TEACHER
        return self.cleaned_data
