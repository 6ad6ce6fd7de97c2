"""What the room has to part metal with."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from classroom.forms.lengths import LengthField, use_units
from classroom.models import School
from studio.models import Shear
from studio.steps.bench.tools import RoomTools

SHEARS: Final = {
    Shear.NONE: gettext_noop("No shear"),
    Shear.HAND: gettext_noop("Bench shear, worked by hand"),
    Shear.FOOT: gettext_noop("Guillotine, worked by foot"),
    Shear.POWER: gettext_noop("Guillotine, power-driven"),
}


class RoomToolsForm(forms.Form):
    """Where no shear is sent, it stays as it is: `now` says which one the room has."""

    depth = LengthField(
        label=_("Our saw frames reach"),
        least_mm=20,
        most_mm=400,
        help_text=_("From the blade to the back of the frame. The usual 3 inch frame: 76 mm."),
    )
    shear = forms.ChoiceField(
        label=_("Shear of the room"),
        required=False,
        widget=forms.RadioSelect,
        help_text=_(
            "With one, a sheet for several students is parted into a blank for each. A "
            "power-driven one is the teacher’s alone; the others are a student’s with the permit, "
            "as your district and the law for minors allow."
        ),
    )
    shear_cut = LengthField(
        label=_("Its longest cut"),
        least_mm=20,
        most_mm=2000,
        required=False,
        help_text=_("Left empty: as long as any sheet of ours."),
    )

    def __init__(self, *args: Any, school: School, now: RoomTools, **kwargs: Any) -> None:
        kwargs.setdefault(
            "initial",
            {"depth": now.frame_depth_mm, "shear": now.shear, "shear_cut": now.shear_cut_mm},
        )
        super().__init__(*args, **kwargs)
        self.now = now
        shear = self.fields["shear"]
        assert isinstance(shear, forms.ChoiceField)
        shear.choices = [(kind.value, gettext(words)) for kind, words in SHEARS.items()]
        use_units(self, school)

    def clean_shear(self) -> str:
        return str(self.cleaned_data["shear"] or self.now.shear)
