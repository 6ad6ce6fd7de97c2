"""Bringing a pattern: the file, its size, how many of it and in which metal."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.core.files.uploadedfile import UploadedFile

from classroom.forms.lengths import LengthField, use_units
from classroom.models import WaitingFile
from inventory.models import Metal
from studio.core.reading.bounds import MAX_BYTES, MAX_SIZE_MM
from studio.core.reading.frame import FRAMES
from studio.core.reading.scan.limits import MAX_PICTURE_BYTES
from studio.core.reading.uploads import MOST_BYTES, PICTURES, READ_KINDS
from studio.forms.kept_file import KeptFileForm
from studio.models import Project

_ACCEPT = {
    "svg": ".svg,image/svg+xml",
    "png": ".png,image/png",
    "jpeg": ".jpg,.jpeg,image/jpeg",
    "tiff": ".tif,.tiff,image/tiff",
    "webp": ".webp,image/webp",
}
_KIND_WORDS = {"tiff": "TIFF", "webp": "WebP"}
MOST_COPIES = 12


def upload_hint() -> str:
    """The kinds of file that have a reader and how large they may be, in words."""
    drawings = ", ".join(_word(kind) for kind in READ_KINDS if kind not in PICTURES)
    pictures = ", ".join(_word(kind) for kind in READ_KINDS if kind in PICTURES)
    return (
        f"A drawing ({drawings}, at most {MAX_BYTES // 1_000_000} MB), or a scan or photo of "
        f"inked paper ({pictures}, at most {MAX_PICTURE_BYTES // 1_000_000} MB)."
    )


def _word(kind: str) -> str:
    return _KIND_WORDS.get(kind, kind.upper())


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


class PatternForm(KeptFileForm, _WithMetal):
    """A new version of the project's pattern; `kept` is a file from an earlier try."""

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
    dpi = forms.FloatField(
        label="Resolution of a scan",
        min_value=100,
        max_value=2400,
        required=False,
        help_text="Dots per inch, often 300. Only for a scan whose file does not say it.",
        error_messages={"invalid": "Write the resolution as a number, such as 300."},
    )
    frame = forms.ChoiceField(
        label="Capture frame in a photo",
        choices=[("", "None, or find it in the photo")]
        + [(frame.name, f"{frame.paper} frame") for frame in FRAMES.values()],
        required=False,
        help_text="A photo gives true sizes only when the drawing lies in the printed frame.",
    )
    mark = forms.BooleanField(
        label="I will mark a card, a coin or a length in the photo",
        required=False,
        help_text="For a photo without the frame, taken straight from above. You mark it next.",
    )
    field_order = ["file", "metal", "copies", "width_mm", "dpi", "frame", "mark"]

    def __init__(
        self, *args: Any, project: Project, kept: WaitingFile | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, project=project, **kwargs)
        self.use_kept(kept)
        use_units(self, project.brief.course.school)
        self.fields["file"].widget.attrs["accept"] = ",".join(
            _ACCEPT.get(kind, f".{kind}") for kind in READ_KINDS
        )

    def clean_file(self) -> UploadedFile[bytes] | None:
        file: UploadedFile[bytes] | None = self.cleaned_data["file"]
        # Which kind it is shows when it is read; drawings may be less large.
        if file is not None and (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                f"This file is larger than {MOST_BYTES // 1_000_000} MB. Save only the lines to "
                "be sawn, without pictures and hidden layers; scan at 300 dpi in grey."
            )
        return file


class MetalForm(_WithMetal):
    """Another metal or number of pieces for a draft, without a new file."""
