"""What a teacher fills in at the bench: a reason, always."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.utils.translation import gettext_lazy as _

from studio.steps.bench.moves import REASON_LENGTH


def _bare() -> FormHelper:
    """The template writes the form tag and the buttons."""
    helper = FormHelper()
    helper.form_tag = False
    helper.disable_csrf = True
    return helper


class SendBackForm(forms.Form):
    """Why a signed step is opened again; the student reads it."""

    reason = forms.CharField(
        label=_("What is to be done better"),
        max_length=REASON_LENGTH,
        strip=True,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("The student reads this and starts the step again."),
        error_messages={"required": _("Say what is to be done better.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = _bare()


class OverrideForm(forms.Form):
    """Which way a rule is lifted, and why."""

    GO_ON, MARK_DONE = "go_on", "mark_done"

    way = forms.ChoiceField(
        label=_("What shall happen"),
        widget=forms.RadioSelect,
        choices=[
            (GO_ON, _("Let the student go on with it now")),
            (MARK_DONE, _("Mark it done in the student's place")),
        ],
    )
    reason = forms.CharField(
        label=_("Reason"),
        max_length=REASON_LENGTH,
        strip=True,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Kept with your name, the time and the lifted rules."),
        error_messages={"required": _("Give the reason: it is kept with the project.")},
    )

    def __init__(self, *args: Any, can_go_on: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        way = self.fields["way"]
        assert isinstance(way, forms.ChoiceField)
        if not can_go_on:
            way.choices = [(self.MARK_DONE, _("Mark it done in the student's place"))]
        way.initial = self.GO_ON if can_go_on else self.MARK_DONE
        self.helper = _bare()
