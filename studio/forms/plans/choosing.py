"""What people fill in about cut plans."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms
from django.db.models import QuerySet

from studio.models import Project
from studio.steps.plans.place import MOST_PROJECTS, MOST_SEED, Whose


def _bare() -> FormHelper:
    """The template writes the form tag, so that its buttons can stand among others."""
    helper = FormHelper()
    helper.form_tag = False
    helper.disable_csrf = True
    return helper


class WhoseForm(forms.Form):
    """Whether students' own layouts are taken where they fit."""

    server_lays = forms.BooleanField(required=False)
    even_standing = forms.BooleanField(required=False)

    @property
    def whose(self) -> Whose:
        return Whose(
            server_lays=self.cleaned_data["server_lays"],
            even_standing=self.cleaned_data["even_standing"],
        )


class NewPlanForm(WhoseForm):
    """Which projects of one metal are placed together, and how long to look."""

    SECONDS = (("10", "10 seconds"), ("30", "30 seconds"), ("60", "1 minute"))

    projects = forms.ModelMultipleChoiceField(
        queryset=Project.objects.none(),
        error_messages={
            "required": "Choose at least one project.",
            "invalid_choice": "One of these projects is not waiting to be placed any more. "
            "Look at the list again.",
            "invalid_pk_value": "That is not a project.",
        },
    )
    seconds = forms.TypedChoiceField(
        label="Look for a good plan for",
        choices=SECONDS,
        coerce=float,
        empty_value=None,
        required=False,
        help_text="A plan is there within a second; more time uses the metal better.",
    )

    def __init__(self, *args: Any, ready: QuerySet[Project], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["projects"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = ready
        self.helper = _bare()

    def clean_projects(self) -> list[Project]:
        chosen = list(self.cleaned_data["projects"])
        if len(chosen) > MOST_PROJECTS:
            raise forms.ValidationError(
                f"At most {MOST_PROJECTS} projects go on one plan. Make several plans."
            )
        return chosen


class AgainForm(WhoseForm):
    """Another try: with the next seed or with one that somebody wants, with or without all."""

    seed = forms.IntegerField(min_value=1, max_value=MOST_SEED, required=False)
    leave_out_unplaced = forms.BooleanField(required=False)


class ApproveForm(forms.Form):
    """A reason is asked for only where the budget does not hold the price."""

    overdraw_reason = forms.CharField(
        label="Reason to overdraw the budget",
        max_length=150,
        required=False,
        help_text="Needed only when the price is more than is left. It is kept with your name.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = _bare()


class DropForm(forms.Form):
    """Why a plan is given up; kept in its history."""

    why = forms.CharField(label="Why (optional)", max_length=150, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = _bare()
