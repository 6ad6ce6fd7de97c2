"""An offcut whose outline is uploaded: the file, its size where the file's is wrong, its facts."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from classroom.forms.lengths import LengthField
from classroom.models import WaitingFile
from inventory.forms.pieces import OffcutFacts
from inventory.rack.outlines import LEAST_WIDTH_MM
from studio.core.reading.bounds import MAX_BYTES, MAX_SIZE_MM
from studio.forms.kept_file import KeptFileForm


class DrawnOffcutForm(KeptFileForm, OffcutFacts):
    file = forms.FileField(
        label="Choose the outline",
        error_messages={
            "required": "Choose the file with the outline.",
            "empty": "This file is empty. Choose another one, or save the drawing again.",
        },
    )
    width_mm = LengthField(
        label="Width of the whole outline",
        least_mm=LEAST_WIDTH_MM,
        most_mm=MAX_SIZE_MM,
        required=False,
        help_text="Only if the size in the file is wrong. Write it like 62 mm or 2 3/8 in.",
    )

    def __init__(self, *args: Any, kept: WaitingFile | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_kept(kept)
        self.fields["file"].widget.attrs["accept"] = ".svg,image/svg+xml"
        self.fields["reason"].initial = "outline traced"

    def clean_file(self) -> UploadedFile[bytes] | None:
        file: UploadedFile[bytes] | None = self.cleaned_data["file"]
        if file is not None and (file.size or 0) > MAX_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MAX_BYTES // 1_000_000} MB. Save only the outline, "
                "without pictures and hidden layers."
            )
        return file
