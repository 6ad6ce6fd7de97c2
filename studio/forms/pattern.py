"""Bringing a pattern: the file, its size, how many of it and in which metal."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.core.files.uploadedfile import UploadedFile

from classroom.forms.lengths import LengthField, use_units
from inventory.models import Metal
from studio.core.reading.bounds import MAX_BYTES, MAX_SIZE_MM
from studio.core.reading.sources import READERS
from studio.models import Project

_ACCEPT = {"svg": ".svg,image/svg+xml"}
_KIND_WORDS = {"svg": "SVG"}
MOST_COPIES = 12


def kinds_taken() -> str:
    """The kinds of file that have a reader, in words."""
    return ", ".join(_KIND_WORDS.get(kind, kind.upper()) for kind in READERS)


class MetalChoice(forms.ModelChoiceField[Metal]):
    def label_from_instance(self, obj: Any) -> str:
        metal: Metal = obj
        return f"{metal}, {metal.get_temper_display()}"


class _WithMetal(forms.Form):
    """Metal and number of pieces; the metal is chosen already when the brief has only one."""

    metal = MetalChoice(
        Metal.objects.none(),
        empty_label="Choose a metal",
        label="Metal to cut it from",
        error_messages={"required": "Choose the metal to cut it from."},
    )
    copies = forms.IntegerField(
        label="How many of it",
        min_value=1,
        max_value=MOST_COPIES,
        initial=1,
        help_text=f"The whole drawing this many times, at most {MOST_COPIES}.",
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.project = project
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        allowed = project.brief.metals.all()
        field.queryset = allowed
        metals = list(allowed[:2])
        if len(metals) == 1:
            field.empty_label = None
            field.initial = metals[0]
        elif project.metal is not None:
            field.initial = project.metal
        self.helper = FormHelper()
        self.helper.form_tag = False


class PatternForm(_WithMetal):
    """A new revision of the project's pattern."""

    file = forms.FileField(
        label="Choose your pattern",
        error_messages={
            "required": "Choose the file with your pattern.",
            "empty": "This file is empty. Choose another one, or save the drawing again.",
        },
    )
    width_mm = LengthField(
        label="Width of the whole drawing",
        least_mm=0.1,
        most_mm=MAX_SIZE_MM,
        required=False,
        help_text="Only if the size in the file is wrong. Write it like 62 mm or 2 3/8 in.",
    )
    field_order = ["file", "metal", "copies", "width_mm"]

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, project=project, **kwargs)
        use_units(self, project.brief.course.school)
        self.fields["file"].widget.attrs["accept"] = ",".join(
            _ACCEPT.get(kind, f".{kind}") for kind in READERS
        )

    def clean_file(self) -> UploadedFile[bytes]:
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if (file.size or 0) > MAX_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MAX_BYTES // 1_000_000} MB. Save only the lines to "
                "be sawn, without pictures and hidden layers."
            )
        return file


class MetalForm(_WithMetal):
    """Another metal or number of pieces for a draft, without a new file."""
