"""A step's words as text boxes: a line is a line; a mistake is “what | cause | mend”."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.wording.typed_lines import lines_of
from studio.core.bench.planned import SchoolWords
from studio.core.bench.texts import Mistake

LINES_MOST = 20
LINE_LONGEST = 300
MISTAKES_MOST = 12


class LinesField(forms.CharField):
    """A text box whose filled lines are the value: a list of strings."""

    widget = forms.Textarea
    most = LINES_MOST
    longest = LINE_LONGEST

    def to_python(self, value: object) -> Any:
        return lines_of(
            value if isinstance(value, str) else "", most=self.most, longest=self.longest
        )

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, list | tuple) else value

    def validate(self, value: Any) -> None:
        if not value and self.required:
            raise forms.ValidationError(_("Write at least one line."))

    def run_validators(self, value: Any) -> None:
        """The bounds are those of `lines_of`; there is no single text to validate."""


class MistakesField(LinesField):
    """Lines of three parts each; cleans to a list of `Mistake`."""

    most = MISTAKES_MOST
    longest = 3 * LINE_LONGEST

    def to_python(self, value: object) -> Any:
        found = []
        for number, line in enumerate(super().to_python(value), start=1):
            parts = [part.strip() for part in line.split("|")]
            if len(parts) != 3 or not all(parts):
                text = _(
                    "Line %(number)s needs three parts with a bar between them: what goes wrong | "
                    "why | what to do about it."
                )
                raise forms.ValidationError(text % {"number": number})
            if max(map(len, parts)) > LINE_LONGEST:
                text = _("Line %(number)s has a part of more than %(most)s characters.")
                raise forms.ValidationError(text % {"number": number, "most": LINE_LONGEST})
            found.append(Mistake(*parts))
        return found

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, list | tuple):
            return "\n".join(f"{one.what} | {one.cause} | {one.mend}" for one in value)
        return value


class StepWordsForm(forms.Form):
    do = LinesField(
        label=_("What to do"),
        widget=forms.Textarea(attrs={"rows": 9}),
        help_text=_(
            "A line for each deed, in order. Holes, windows and the blade of each project are "
            "added by themselves."
        ),
    )
    right_when = LinesField(
        label=_("It is right when"),
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text=_("How to see it, a line each."),
    )
    mistakes = MistakesField(
        label=_("Usual mistakes"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 7}),
        help_text=_("A line each: what goes wrong | why | what to do about it."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=10**6)
    seen_own = forms.IntegerField(
        widget=forms.HiddenInput, min_value=0, max_value=10**6, required=False
    )

    @staticmethod
    def of(words: SchoolWords) -> dict[str, Any]:
        """The form's starting values for the words that stand now."""
        return {
            "do": words.do,
            "right_when": words.right_when,
            "mistakes": words.mistakes,
            "seen": words.version,
        }
