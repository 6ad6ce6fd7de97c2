"""An offcut from a photo: first the photo and which metal it is, then what was read is kept."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from classroom.figures.units import format_length
from classroom.forms.lengths import LengthField
from classroom.models import User, WaitingFile
from classroom.wording.typed_lines import plain_line, tidy
from inventory.forms.asking import AskingForm
from inventory.forms.fields import MoneyField, SentOnceForm, WeightField, use_school
from inventory.forms.pieces import caliper_doubts
from inventory.models import Metal
from inventory.plausible import Doubt
from studio.core.reading.metal import MetalPhoto, Opening
from studio.core.reading.scan.limits import MAX_PICTURE_BYTES
from studio.forms.kept_file import KeptFileForm

LAID, TRACED = "laid", "traced"
MOST_MB = MAX_PICTURE_BYTES // 1_000_000


class MetalPhotoForm(AskingForm, KeptFileForm):
    file = forms.FileField(
        label="Choose the photo",
        error_messages={
            "required": "Choose the photo of the metal.",
            "empty": "This file is empty. Choose another one.",
        },
    )
    way = forms.ChoiceField(
        label="What lies in the frame",
        choices=[
            (LAID, "the metal itself, in even light without hard shadows"),
            (TRACED, "a pen line drawn round the metal (surer where the metal shines)"),
        ],
        initial=LAID,
        widget=forms.RadioSelect,
    )
    metal = forms.ModelChoiceField(
        queryset=Metal.objects.none(),
        empty_label="Choose …",
        help_text="Its thickness counts: the upper face is nearer to the camera.",
    )
    measured = LengthField(
        label="Caliper reading",
        least_mm=0.05,
        most_mm=10,
        required=False,
        help_text="Its thickness, where you measured it.",
    )

    def __init__(
        self, *args: Any, acting: User, kept: WaitingFile | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.use_kept(kept)
        self.fields["file"].widget.attrs["accept"] = "image/jpeg,image/png,image/webp,image/tiff"
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school, retired_at=None)
        self.school = acting.school
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        data = self.cleaned_data
        return caliper_doubts(data["measured"], data["metal"], self.school)

    def clean_file(self) -> UploadedFile[bytes] | None:
        file: UploadedFile[bytes] | None = self.cleaned_data["file"]
        if file is not None and (file.size or 0) > MAX_PICTURE_BYTES:
            raise forms.ValidationError(
                f"This photo is larger than {MOST_MB} MB. Save it smaller, as JPEG."
            )
        return file


def letter_of(number: int) -> str:
    """1 is A, 26 is Z, 27 is AA."""
    text = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def _named(number: int, one: Opening, units: str) -> str:
    x0, y0, x1, y1 = one.outline.bounds
    size = f"{format_length(x1 - x0, units)} × {format_length(y1 - y0, units)}"
    doubt = "" if one.window else ", taken for mirrored light"
    return f"{letter_of(number)}, {size}{doubt}"


class KeepPhotoForm(SentOnceForm):
    """What was read is right, and this is what the photo does not show."""

    windows = forms.MultipleChoiceField(
        label="Windows in the metal",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="By their letters in the picture. Untick what is only mirrored light.",
    )
    weight = WeightField(
        label="Weight on the scale",
        required=False,
        help_text="Optional: compared with size, thickness and density.",
    )
    heavy_ok = forms.BooleanField(label="Put it on the rack all the same", required=False)
    cost = MoneyField(label="What it is worth", initial="0.00")
    clean_edges = forms.BooleanField(
        label="Its straight edges are clean",
        required=False,
        help_text="A pattern may then lie on them without sawing.",
    )
    place = forms.CharField(label="Where it lies", max_length=60, required=False)
    reason = forms.CharField(label="Why", max_length=120, initial="found and photographed")

    def __init__(self, *args: Any, photo: MetalPhoto, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.photo = photo
        field = self.fields["windows"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(str(number), f"{number}") for number in range(1, len(photo.openings) + 1)]
        field.initial = [
            str(number) for number, one in enumerate(photo.openings, start=1) if one.window
        ]
        if not photo.openings:
            del self.fields["windows"]
        use_school(self, acting.school)

    def chosen(self) -> frozenset[int]:
        """Numbers of the openings that are windows, as ticked or else as read."""
        if not self.is_bound or "windows" not in self.fields:
            return frozenset(
                number for number, one in enumerate(self.photo.openings, start=1) if one.window
            )
        ticked = self.data.getlist("windows") if hasattr(self.data, "getlist") else []
        numbers = {int(text) for text in ticked if text.isdecimal() and len(text) < 4}
        return frozenset(numbers & set(range(1, len(self.photo.openings) + 1)))

    def clean_place(self) -> str:
        return tidy(self.cleaned_data["place"])

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def clean_cost(self) -> Decimal:
        return Decimal(self.cleaned_data["cost"])
