"""How pieces are placed, as a form: what is left empty is as the school, or the app, has it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils.text import capfirst

from classroom.figures.units import format_bound, format_thickness, length_to_type
from classroom.forms.lengths import LengthField, use_units
from classroom.models import School
from inventory import metals
from studio.models import Hand, PlacingSettings, Sharing
from studio.steps.plans.placing_settings import PlacingRules

from .hands import hand_choices

MM2_PER_SQUARE_INCH = Decimal("645.16")


ROOM = ("first_gap_mm", "first_filing_mm", "surer_gap_mm", "surer_filing_mm")
PARTING = ("shear_margin_mm", "shear_strip_mm", "saw_margin_mm", "saw_strip_mm")
LENGTHS = (*ROOM, "straight_min_mm", "rim_mm", "edge_margin_mm", *PARTING)
SAID_AS_TYPED = (
    "blade",
    "hand",
    "offcut_min_width_mm",
    *LENGTHS,
    "saw_worth_per_cm",
    "sheet_grain",
    "sharing",
)
"""Fields whose value the model keeps as the form cleans it."""


RIM_FROM_MM, RIM_TO_MM = 1, 2


def sharing_choices() -> list[tuple[str, str]]:
    """The ways that several students may come by their metal."""
    return [(way.value, capfirst(way.label)) for way in Sharing]


def sharing_words(way: str) -> str:
    """What holds where nothing is chosen."""
    return Sharing(way).label if way else "by the room’s tools"


def kerf_field(number: int) -> str:
    return f"kerf_{number}"


class PlacingSettingsForm(forms.Form):
    """`below` are the rules that hold where a field is left empty, `now` those that hold here."""

    blade = forms.ChoiceField(
        label="Usual saw blade",
        required=False,
    )
    hand = forms.ChoiceField(
        label="How sure the hands are",
        required=False,
        widget=forms.RadioSelect,
        help_text="Holds for every plan here; a brief may say otherwise. In a plan of several "
        "briefs the widest room holds.",
    )
    first_gap_mm = LengthField(
        label="First pieces: between pieces", least_mm=0.3, most_mm=10, required=False
    )
    first_filing_mm = LengthField(
        label="First pieces: added to the kerf on a shared line",
        least_mm=0,
        most_mm=3,
        required=False,
    )
    surer_gap_mm = LengthField(
        label="Getting surer: between pieces", least_mm=0.3, most_mm=10, required=False
    )
    surer_filing_mm = LengthField(
        label="Getting surer: added to the kerf on a shared line",
        least_mm=0,
        most_mm=3,
        required=False,
    )
    straight_min_mm = LengthField(
        label="Least straight run",
        least_mm=2,
        most_mm=100,
        required=False,
        help_text="A straight side at least this long may lie on a clean edge of the metal, or "
        "share its cut with a neighbour. Shorter sides and curves keep their room.",
    )
    rim_mm = LengthField(
        label="Paper rim",
        least_mm=RIM_FROM_MM,
        most_mm=RIM_TO_MM,
        required=False,
    )
    offcut_min_width_mm = LengthField(
        label="Narrowest offcut that goes back to the rack",
        least_mm=2,
        most_mm=600,
        required=False,
        help_text="A new brief begins with it. Half an inch holds a small charm with room to saw "
        "around it; anything narrower is scrap.",
    )
    offcut_min_area = forms.DecimalField(
        label="Smallest offcut that goes back to the rack",
        min_value=0,
        required=False,
        help_text="Smaller pieces cost more in labels and looking than they save in metal.",
    )
    edge_margin_mm = LengthField(
        label="Margin along rough edges",
        least_mm=0,
        most_mm=20,
        required=False,
        help_text="Stays free along edges that were sawn or cut with hand shears: a narrower strip "
        "cannot be sawn off. It is never less than the kerf.",
    )
    saw_worth_per_cm = forms.DecimalField(
        label="Worth of one centimetre less to saw",
        min_value=0,
        max_value=100,
        decimal_places=3,
        required=False,
        help_text="Beside the blades, which are counted from the list of supplies. Say more where "
        "class time is short: a plan with less sawing then wins over one that saves a little "
        "metal.",
    )
    sheet_grain = forms.ChoiceField(
        label="The grain of rolled sheet",
        required=False,
        help_text="Sheet bends and polishes differently along and across the direction in which it "
        "was rolled. Briefs say which way it must run in their pieces; offcuts keep the grain of "
        "the sheet they were cut from. For flat pierced work it need not be looked at.",
    )
    sharing = forms.ChoiceField(
        label="Several students on one stock piece",
        required=False,
        widget=forms.RadioSelect,
        help_text="Where the room cannot do it, its tools decide: with a shear the metal is "
        "parted, else sawn apart where the frame reaches, else passed on. A plan’s page shows what "
        "every way comes to, and another can be taken there with one tap.",
    )
    shear_margin_mm = LengthField(
        label="Shear: from a piece to the cut", least_mm=0, most_mm=20, required=False
    )
    shear_strip_mm = LengthField(
        label="Shear: narrowest part", least_mm=2, most_mm=100, required=False
    )
    saw_margin_mm = LengthField(
        label="Saw: from a piece to the cut", least_mm=0, most_mm=20, required=False
    )
    saw_strip_mm = LengthField(label="Saw: narrowest part", least_mm=2, most_mm=100, required=False)

    def __init__(
        self,
        *args: Any,
        school: School,
        said: Mapping[str, Any],
        below: PlacingRules,
        now: PlacingRules,
        whose: str,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.inches = school.units == School.Units.INCHES
        self.whose = whose
        self.kerf_names = [
            (kerf_field(number), blade.size) for number, blade in enumerate(metals.BLADES)
        ]
        for name, size in self.kerf_names:
            self.fields[name] = LengthField(
                label=f"Blade {size}", least_mm=0.05, most_mm=3, required=False
            )
        use_units(self, school)
        self._choices(below, hand_choices(now, school))
        self._as_below(below, school)
        self._begin_with(said)

    def _choices(self, below: PlacingRules, hands: list[tuple[str, str]]) -> None:
        grains = dict(PlacingSettings.SheetGrain.choices)
        for name, choices, now in (
            ("hand", hands, Hand(below.hand).label),
            ("blade", [(blade.size, blade.size) for blade in metals.BLADES], below.blade),
            ("sheet_grain", list(grains.items()), grains[below.sheet_grain]),
            ("sharing", sharing_choices(), sharing_words(below.sharing)),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = [("", f"{self.whose}: {now}"), *choices]

    def _as_below(self, below: PlacingRules, school: School) -> None:
        """Show in the empty boxes what holds while they are empty."""
        units = "in²" if self.inches else "mm²"
        self.fields["offcut_min_area"].label = f"Smallest offcut that goes back, in {units}"
        self.fields[
            "saw_worth_per_cm"
        ].label = f"Worth of one centimetre less to saw, in {school.currency}"
        for name in LENGTHS:
            value = format_thickness(getattr(below, name), school.units)
            self.fields[name].widget.attrs["placeholder"] = f"{self.whose}: {value}"
        width = length_to_type(below.offcut_min_width_mm, school.units, kept=2)
        self.fields["offcut_min_width_mm"].widget.attrs["placeholder"] = f"{self.whose}: {width}"
        for name, size in self.kerf_names:  # in narrow boxes; whose it is, stands above
            kerf = format_thickness(below.kerf_mm(size), school.units)
            self.fields[name].widget.attrs["placeholder"] = kerf
        sheet = format_thickness(Decimal("0.81"), school.units)
        self.fields[
            "blade"
        ].help_text = f"A new brief begins with it. 2/0 suits 20 gauge sheet ({sheet})."
        least, most = (format_bound(mm, school.units) for mm in (RIM_FROM_MM, RIM_TO_MM))
        self.fields["rim_mm"].help_text = (
            "Paper left beyond the line, so that its edge does not lift under the saw: from "
            f"{least} to {most}."
        )
        self.fields["offcut_min_area"].widget.attrs["placeholder"] = (
            f"{self.whose}: {self._area_typed(below.offcut_min_area_mm2)}"
        )
        self.fields["saw_worth_per_cm"].widget.attrs["placeholder"] = (
            f"{self.whose}: {below.saw_worth_per_cm.normalize():f}"
        )

    def _begin_with(self, said: Mapping[str, Any]) -> None:
        for name in SAID_AS_TYPED:
            self.fields[name].initial = said.get(name)
        area = said.get("offcut_min_area_mm2")
        self.fields["offcut_min_area"].initial = None if area is None else self._area_typed(area)
        for name, size in self.kerf_names:
            mm = said.get("kerfs", {}).get(size)
            self.fields[name].initial = Decimal(mm) if mm else None

    def _area_typed(self, mm2: Decimal) -> str:
        shown = mm2 / MM2_PER_SQUARE_INCH if self.inches else mm2
        return f"{shown.quantize(Decimal('0.01')).normalize():f}"

    def clean_offcut_min_area(self) -> Decimal | None:
        typed: Decimal | None = self.cleaned_data["offcut_min_area"]
        if typed is None:
            return None
        mm2 = typed * (MM2_PER_SQUARE_INCH if self.inches else 1)
        if mm2 > 90_000:
            raise forms.ValidationError("That is more than a whole sheet: type a smaller area.")
        return mm2.quantize(Decimal("0.01"), ROUND_HALF_UP)

    @property
    def said(self) -> dict[str, Any]:
        """What the form says, by the names of the model."""
        cleaned = self.cleaned_data
        kerfs = {size: str(cleaned[name]) for name, size in self.kerf_names if cleaned[name]}
        return {name: cleaned[name] for name in SAID_AS_TYPED} | {
            "offcut_min_area_mm2": cleaned["offcut_min_area"],
            "kerfs": kerfs,
        }

    @property
    def room_fields(self) -> list[forms.BoundField]:
        """The numbers of the hands whose room is a number."""
        return [self[name] for name in ROOM]

    @property
    def parting_fields(self) -> list[forms.BoundField]:
        """Margins and strips of the cuts that part metal."""
        return [self[name] for name in PARTING]

    @property
    def some_parting_said(self) -> bool:
        """Whether those numbers are to be seen at once: one stands there, or is wrong."""
        return any(self.fields[name].initial is not None or self[name].errors for name in PARTING)

    @property
    def kerf_fields(self) -> list[forms.BoundField]:
        return [self[name] for name, _ in self.kerf_names]

    @property
    def some_room_said(self) -> bool:
        """Whether the hands' numbers are to be seen at once: one stands there, or is wrong."""
        return any(self.fields[name].initial is not None or self[name].errors for name in ROOM)

    @property
    def some_kerf_said(self) -> bool:
        """Whether the list of blades is to be open: something stands there, or is wrong."""
        names = [name for name, _ in self.kerf_names]
        return any(self.fields[name].initial or self[name].errors for name in names)
