"""To whom metal goes, who sticks an absent student's papers on, and who is left out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _

from studio.steps.bench.moves import REASON_LENGTH

Choices = Sequence[tuple[str, str]]


class _Bare(forms.Form):
    """The template writes the form tag and the buttons."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True


def _choose(form: forms.Form, name: str, choices: Choices) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = choices


class HandOnForm(_Bare):
    """A student of the metal, or the shelf; `seen` is the entry that the page showed."""

    SHELF = "shelf"

    to = forms.ChoiceField(label=_("Who gets it"))
    reason = forms.CharField(
        label=_("Why"),
        required=False,
        max_length=REASON_LENGTH,
        strip=True,
        help_text=_("Needed only where somebody gets it again who has sawn already."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=2**53)

    def __init__(self, *args: Any, people: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choose(self, "to", [*people, (self.SHELF, str(_("nobody: it goes on the shelf")))])


class StandInForm(_Bare):
    """Whose papers, and who sticks them on."""

    share = forms.ChoiceField(label=_("Whose papers"))
    by = forms.ChoiceField(label=_("Who sticks them on"))
    reason = forms.CharField(
        label=_("Why"),
        max_length=REASON_LENGTH,
        strip=True,
        error_messages={"required": _("Say why somebody else sticks these papers on.")},
    )

    def __init__(self, *args: Any, people: Choices, helpers: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choose(self, "share", people)
        _choose(self, "by", helpers)


class LeaveOutForm(_Bare):
    """Who is left out of the plan, and why."""

    share = forms.ChoiceField(label=_("Who is left out"))
    reason = forms.CharField(
        label=_("Why"),
        max_length=REASON_LENGTH,
        strip=True,
        help_text=_("The student's pattern is then approved and without a plan, as before."),
        error_messages={"required": _("Say why: it is kept with the plan.")},
    )

    def __init__(self, *args: Any, people: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choose(self, "share", people)
