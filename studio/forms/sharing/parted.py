"""What came out of parting a stock piece, part by part."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.forms.lengths import LengthField, use_units
from classroom.models import School
from studio.steps.sharing.parting.measuring import CAUSE_LENGTH, LEAST_MM, MOST_MM, PartOut
from studio.steps.sharing.parting.planned_parts import PlannedPart


class PartedForm(forms.Form):
    """For each part `width_<n>` and `height_<n>`, `lost_<n>` and `cause_<n>`, prefilled as planned;
    then where the leftovers lie."""

    place = forms.CharField(
        label=_("Where the leftovers lie now"),
        max_length=60,
        required=False,
        help_text=_("Such as a shelf or drawer of the rack."),
    )

    def __init__(
        self, *args: Any, parts: Sequence[PlannedPart], school: School, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.parts = parts
        for part in parts:
            self._add(part)
        self.order_fields([name for name in self.fields if name != "place"])
        use_units(self, school)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True

    def _add(self, part: PlannedPart) -> None:
        number = part.number
        if part.can_be_measured:
            for name, label, side in zip(
                ("width", "height"), (_("Width"), _("Height")), part.size_mm, strict=True
            ):
                self.fields[f"{name}_{number}"] = LengthField(
                    label=label,
                    least_mm=float(LEAST_MM),
                    most_mm=float(MOST_MM),
                    initial=Decimal(f"{side:.2f}"),
                )
        self.fields[f"lost_{number}"] = forms.BooleanField(
            label=_("Spoilt: it goes into the scrap box"), required=False
        )
        self.fields[f"cause_{number}"] = forms.CharField(
            label=_("If cut wrong or spoilt: why"), max_length=CAUSE_LENGTH, required=False
        )

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        for part in self.parts:
            number = part.number
            if cleaned.get(f"lost_{number}") and not cleaned.get(f"cause_{number}"):
                self.add_error(f"cause_{number}", _("Say why this part was spoilt."))
        return cleaned

    def rows(self) -> list[dict[str, Any]]:
        """Each part with its fields, for the template."""
        return [
            {"part": part}
            | {
                name: self[f"{name}_{part.number}"]
                for name in ("width", "height", "lost", "cause")
                if f"{name}_{part.number}" in self.fields
            }
            for part in self.parts
        ]

    def measured(self) -> dict[int, PartOut]:
        """What the form says of every part; sides as typed, which are the planned ones at first."""
        data = self.cleaned_data
        found = {}
        for part in self.parts:
            number = part.number
            found[number] = PartOut(
                data.get(f"width_{number}"),
                data.get(f"height_{number}"),
                data[f"cause_{number}"],
                data[f"lost_{number}"],
            )
        return found


class CorrectPartForm(forms.Form):
    """The true sides of a blank that was entered wrong, and why."""

    width = LengthField(label=_("Width"), least_mm=float(LEAST_MM), most_mm=float(MOST_MM))
    height = LengthField(label=_("Height"), least_mm=float(LEAST_MM), most_mm=float(MOST_MM))
    cause = forms.CharField(
        label=_("Why it was entered wrong"),
        max_length=CAUSE_LENGTH,
        error_messages={"required": _("Say why it was entered wrong: it is kept with the metal.")},
    )

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_units(self, school)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True

    def said(self) -> PartOut:
        data = self.cleaned_data
        return PartOut(data["width"], data["height"], data["cause"])
