"""The teacher's decision on one pattern, or on several clean ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.db.models import QuerySet

from classroom.models import Course
from studio.models import Brief

Mark = dict[str, Any]
"""As `Pattern.mark` keeps it: on "pattern" or "layout", metal, x_mm, y_mm."""
FURTHEST_MM = 10_000.0


def mark_from(text: str, metals: Collection[str]) -> Mark | None:
    """A tap as the page sends it, such as "layout|CU-1|12.5|8"; None where it is none."""
    parts = text.split("|")
    if len(parts) != 4:
        return None
    on, metal, *numbers = parts
    try:
        x, y = (round(float(number), 2) for number in numbers)
    except ValueError:
        return None
    if not (abs(x) <= FURTHEST_MM and abs(y) <= FURTHEST_MM):  # also what is no number
        return None
    if on == "pattern":
        return {"on": on, "metal": "", "x_mm": x, "y_mm": y}
    return {"on": on, "metal": metal, "x_mm": x, "y_mm": y} if metal in metals else None


class AnswerForm(forms.Form):
    """`decision` comes from the button that was pressed; `at` from a tap on a picture.

    `places` are what the remark may point at without a tap, `layouts` the tries of which one
    counts from now on.
    """

    APPROVE, RETURN = "approve", "return"

    remark = forms.CharField(
        label="Remark to the student",
        max_length=1000,
        required=False,
        strip=True,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Needed when you hand the pattern back: say what to change.",
    )
    at = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)
    points_at = forms.ChoiceField(
        label="The remark points at",
        required=False,
        help_text="Tap the place on a picture, or choose here. The student sees a ring there.",
    )
    layout = forms.ChoiceField(label="The plan takes", required=False, widget=forms.RadioSelect)
    place_now = forms.BooleanField(
        label="Start placing it on metal at once",
        required=False,
        initial=True,
        help_text="Leave it off to place several projects together later.",
    )
    decision = forms.ChoiceField(
        choices=[(APPROVE, "approve"), (RETURN, "return")], widget=forms.HiddenInput
    )

    def __init__(
        self,
        *args: Any,
        places: Mapping[str, tuple[str, Mark]] | None = None,
        layouts: Sequence[tuple[str, str]] = (),
        metals: Collection[str] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.places, self.metals = places or {}, metals
        named = [(key, words) for key, (words, _) in self.places.items()]
        self._choices("points_at", [("", "nothing in particular"), *named])
        self._choices("layout", layouts)
        if layouts:
            self.fields["layout"].initial = layouts[0][0]
        self.helper = FormHelper()
        self.helper.form_tag = False

    def _choices(self, name: str, choices: Sequence[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(choices)

    @property
    def mark(self) -> Mark | None:
        """Where the remark points: the tap, else what was chosen."""
        tapped = mark_from(self.cleaned_data.get("at") or "", self.metals)
        if tapped is not None:
            return tapped
        place = self.places.get(self.cleaned_data.get("points_at") or "")
        return place[1] if place else None

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        if cleaned.get("decision") == self.RETURN and not cleaned.get("remark"):
            self.add_error("remark", "Write what the student should change.")
        return cleaned


class SeveralForm(forms.Form):
    """Approve several looked-at patterns, and say how they are placed."""

    ALONE, TOGETHER, LATER = "alone", "together", "later"

    placing = forms.ChoiceField(
        label="Then place them",
        choices=[
            (ALONE, "each in a cut plan of its own"),
            (TOGETHER, "those of one course and metal together"),
            (LATER, "later, when I choose"),
        ],
        initial=ALONE,
    )


class WaitingFilter(forms.Form):
    """Narrow the queue of waiting patterns."""

    course = forms.ModelChoiceField(
        Course.objects.none(), required=False, empty_label="All courses"
    )
    brief = forms.ModelChoiceField(Brief.objects.none(), required=False, empty_label="All briefs")

    def __init__(
        self, *args: Any, courses: QuerySet[Course], briefs: QuerySet[Brief], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("course", courses), ("brief", briefs)):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows
