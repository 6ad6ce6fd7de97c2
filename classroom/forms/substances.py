"""The form of a substance, in all languages of the house at once."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile, UploadedFile

from classroom.files.waiting_files import content_of
from classroom.languages import LANGUAGES, known
from classroom.models import School, Substance, Topic, WaitingFile
from classroom.refusals import Refused
from classroom.safety.data_sheets import BYTES_MOST, read_sheet
from classroom.wording.typed_lines import plain_line, tidy

from .safety import LinesField


class CautionLines(LinesField):
    most = 12


class SubstanceForm(forms.Form):
    title = forms.CharField(label="Name", max_length=80, help_text="As it stands on the bottle.")
    cautions = CautionLines(help_text="A line each.", widget=forms.Textarea(attrs={"rows": 6}))
    topics = forms.ModelMultipleChoiceField(
        label="Shown with these topics",
        queryset=Topic.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Also at bench steps that ask for a permit of the topic.",
    )
    sheet = forms.FileField(
        label="Your safety data sheet, as a PDF",
        required=False,
        help_text=f"At most {BYTES_MOST // 2**20} MB. A new one takes the place of the old one.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,.pdf"}),
    )
    sheet_link = forms.URLField(
        label="Or its address",
        required=False,
        max_length=300,
        assume_scheme="https",
        help_text="Where the maker or the district keeps it; https only.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1)

    def __init__(
        self,
        *args: Any,
        school: School,
        substance: Substance | None,
        kept: WaitingFile | None = None,
        **kwargs: Any,
    ) -> None:
        """`kept` is a data sheet from the try before; another one may be chosen in its place."""
        super().__init__(*args, **kwargs)
        self.kept = kept
        own = substance.language if substance else known(school.language)
        field = self.fields["topics"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = Topic.objects.filter(school=school, retired_at=None)
        self.others = [code for code in LANGUAGES if code != own]
        for code in self.others:
            name = LANGUAGES[code]
            self.fields[f"title_{code}"] = forms.CharField(
                label=f"Name, {name}", max_length=80, required=False
            )
            self.fields[f"cautions_{code}"] = CautionLines(
                label=f"Cautions, {name}",
                required=False,
                help_text="A line each.",
                widget=forms.Textarea(attrs={"rows": 6, "lang": code}),
            )
        if substance is not None:
            self.initial = {
                "title": substance.title,
                "cautions": substance.cautions,
                "topics": [topic.pk for topic in substance.topics.all()],
                "sheet_link": substance.sheet_link,
                "version": substance.version,
            }
            for code in self.others:
                words = substance.translations.get(code) or {}
                self.initial[f"title_{code}"] = words.get("title", "")
                self.initial[f"cautions_{code}"] = words.get("cautions", [])

    def clean_title(self) -> str:
        return plain_line(self.cleaned_data["title"])

    def clean_sheet_link(self) -> str:
        link = str(self.cleaned_data["sheet_link"])
        if link and urlsplit(link).scheme != "https":
            raise forms.ValidationError("The address begins with https://.")
        return link

    def clean_sheet(self) -> tuple[str, bytes] | None:
        try:
            upload = self.cleaned_data["sheet"] or self._kept_sheet()
            return read_sheet(upload) if upload else None
        except Refused as refusal:
            self.kept = None
            raise forms.ValidationError(str(refusal)) from refusal

    def _kept_sheet(self) -> UploadedFile[bytes] | None:
        if self.kept is None:
            return None
        try:
            return SimpleUploadedFile(self.kept.file_name, content_of(self.kept))
        except FileNotFoundError as gone:
            raise Refused("This file is no longer kept. Choose it again.") from gone

    @property
    def brought(self) -> tuple[str, bytes] | None:
        """A good sheet that has just come: its name and content."""
        sheet: tuple[str, bytes] | None = self.cleaned_data.get("sheet")
        return sheet if "sheet" in self.files else None

    def clean(self) -> dict[str, Any]:
        super().clean()
        for code in self.others:
            title = tidy(self.cleaned_data.get(f"title_{code}") or "")
            lines = self.cleaned_data.get(f"cautions_{code}") or []
            if bool(title) != bool(lines):
                self.add_error(
                    f"title_{code}", "A translation has a name and cautions, or neither."
                )
        return self.cleaned_data

    def stored(self) -> dict[str, Any]:
        said = self.cleaned_data
        translations = {
            code: {
                "title": tidy(said[f"title_{code}"]),
                "cautions": said[f"cautions_{code}"],
            }
            for code in self.others
            if said.get(f"title_{code}")
        }
        return {
            "title": said["title"],
            "cautions": said["cautions"],
            "sheet_link": said["sheet_link"],
            "translations": translations,
        }
