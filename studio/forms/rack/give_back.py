"""What comes back of a cut plan, offcut by offcut, with the weight of the scrap."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms

from classroom.figures.units import format_mass
from classroom.forms.lengths import LengthField, use_units
from classroom.models import School
from classroom.refusals import Refused
from classroom.wording.typed_lines import plain_line
from inventory.forms.asking import AskingForm
from inventory.plausible import Doubt, scrap_doubt
from studio.core.offcuts.returning import Leaf, ReturnError, smaller, total
from studio.models import CutPlan
from studio.steps.rack.balance_sheet import OutAtBench
from studio.steps.rack.give_back import MOST_SCRAP_G, REASON_LENGTH, Kept, Size, balances_of
from studio.steps.rack.returned_areas import masses_now

WHOLE, SMALLER, SCRAP = "rack", "smaller", "scrap"


def scrap_field(label: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        min_value=Decimal(0),
        max_value=MOST_SCRAP_G,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.01"}),
        error_messages={"required": "Weigh the scrap; write 0 where there is none."},
    )


class ReturnForm(AskingForm):
    """For each offcut `fate_<n>` with `width_<n>` and `height_<n>`, then scrap and remarks."""

    # Which projects the page took as not made: when that changes, so do the offcuts.
    given_up = forms.CharField(required=False, widget=forms.HiddenInput)
    scrap_mass_g = scrap_field("Scrap on the scales, in grams")
    place = forms.CharField(
        label="Where the offcuts lie now",
        max_length=60,
        required=False,
        help_text="Such as a shelf or drawer of the rack.",
    )
    remark = forms.CharField(
        label="Remark",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    given_up_reason = forms.CharField(
        label="Why the unfinished projects are given up",
        max_length=REASON_LENGTH,
        error_messages={"required": "Give the reason: it is kept with each project."},
    )
    overdraw_reason = forms.CharField(
        label="Reason to overdraw the budget",
        max_length=150,
        required=False,
        help_text="Needed only when more was used than planned and the budget does not hold it.",
    )

    def __init__(self, *args: Any, bench: OutAtBench, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bench, self.school = bench, school
        self.leaves: Sequence[Leaf] = bench.leaves
        for number, leaf in enumerate(self.leaves):
            self._add_leaf(number, leaf)
        self.fields["given_up"].initial = self._unmade()
        if not bench.unmade:
            del self.fields["given_up_reason"]
        use_units(self, school)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True

    def _add_leaf(self, number: int, leaf: Leaf) -> None:
        keep = (
            "Back to the rack, whole and uncut" if leaf.whole else "To the rack as in the picture"
        )
        self.fields[f"fate_{number}"] = forms.ChoiceField(
            label="What becomes of it",
            widget=forms.RadioSelect,
            choices=[
                (WHOLE, keep),
                (SMALLER, "To the rack, but it came back smaller"),
                (SCRAP, "Not kept: it goes into the scrap box"),
            ],
            initial=WHOLE,
        )
        for name, label in (("width", "Width of the rectangle"), ("height", "Height")):
            self.fields[f"{name}_{number}"] = LengthField(
                label=label, required=False, least_mm=1, most_mm=3100
            )

    def rows(self) -> list[dict[str, Any]]:
        """Each offcut with its fields, for the template."""
        return [
            {
                "leaf": leaf,
                "fate": self[f"fate_{number}"],
                "width": self[f"width_{number}"],
                "height": self[f"height_{number}"],
                "number": number + 1,
            }
            for number, leaf in enumerate(self.leaves)
        ]

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        if cleaned.get("given_up", "") != self._unmade():
            raise forms.ValidationError(
                "Meanwhile a project of this plan was finished or opened again, so other offcuts "
                "may come back. Load the page again and look at them anew."
            )
        for number, leaf in enumerate(self.leaves):
            if cleaned.get(f"fate_{number}") == SMALLER:
                self._check_size(number, leaf)
        return cleaned

    def _check_size(self, number: int, leaf: Leaf) -> None:
        width, height = (self.cleaned_data.get(f"{name}_{number}") for name in ("width", "height"))
        if any(f"{name}_{number}" in self.errors for name in ("width", "height")):
            return
        if width is None or height is None:
            self.add_error(f"width_{number}", "Measure what came back: width and height.")
            return
        try:
            smaller(leaf, float(width), float(height))
        except ReturnError as error:
            self.add_error(f"width_{number}", str(error))

    def doubts(self) -> Sequence[Doubt]:
        """The scrap against what these offcuts leave."""
        try:
            balances = balances_of(self.bench, self.kept())
        except Refused:
            return ()  # said when the plan is closed, with all that belongs to it
        if not balances:
            return ()
        whole, metal = total(balances), next(iter(self.bench.stock.values())).metal
        doubt = scrap_doubt(
            "scrap_mass_g",
            self.cleaned_data["scrap_mass_g"],
            expected_g=metal.mass_g(whole.scrap),
            dust_g=metal.mass_g(whole.kerf),
            out_g=metal.mass_g(whole.out),
            units=self.school.units,
        )
        return [doubt] if doubt else []

    def kept(self) -> Kept:
        """The offcuts that go back to the rack, as `close_plan` wants them."""
        found: dict[str, Size | None] = {}
        for number, leaf in enumerate(self.leaves):
            fate = self.cleaned_data[f"fate_{number}"]
            if fate == WHOLE:
                found[leaf.key] = None
            elif fate == SMALLER:
                size = (self.cleaned_data[f"width_{number}"], self.cleaned_data[f"height_{number}"])
                found[leaf.key] = size
        return found

    def _unmade(self) -> str:
        return ",".join(str(project.pk) for project in self.bench.unmade)


class CorrectScrapForm(AskingForm):
    """What the scrap of a closed plan really weighed, and what was wrong."""

    scrap_mass_g = scrap_field("What the scales should have said, in grams")
    reason = forms.CharField(label="Why", max_length=90)

    def __init__(self, *args: Any, plan: CutPlan, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school = school
        self.mass = masses_now(plan)
        likely = format_mass(self.mass["scrap_expected"], school.units)
        self.fields["scrap_mass_g"].help_text = f"About {likely} is expected by the plan."

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def doubts(self) -> Sequence[Doubt]:
        doubt = scrap_doubt(
            "scrap_mass_g",
            self.cleaned_data["scrap_mass_g"],
            expected_g=self.mass["scrap_expected"],
            dust_g=self.mass["kerf"],
            out_g=self.mass["out"],
            units=self.school.units,
        )
        return [doubt] if doubt else []
