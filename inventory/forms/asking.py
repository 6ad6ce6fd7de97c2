"""A form that asks before it saves an unlikely figure, and keeps what was answered.

Two fields that are hidden until there is something to ask: a tick, whose value names what was
asked (so a figure that is changed afterwards is asked about anew), and for what cannot be, how
that came about.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from django import forms
from django.db import models

from classroom.models import User, record
from classroom.wording.typed_lines import tidy
from inventory.plausible import Doubt

KEPT_AS_TYPED = "kept-as-typed"
"""Verb of the history rows that keep a question and its answer."""


class _Tick(forms.CheckboxInput):
    """Never ticked from the start: what was asked before is another question."""

    def __init__(self, value: str) -> None:
        super().__init__(attrs={"value": value}, check_test=lambda _: False)


class AskingForm(forms.Form):
    """Say in `doubts` what is unlikely; the form is valid once all of it was answered."""

    sure = forms.CharField(
        label="It is right as typed: keep it",
        required=False,
        max_length=40,
        widget=forms.HiddenInput,
    )
    sure_why = forms.CharField(
        label="How that came about",
        required=False,
        max_length=60,
        widget=forms.HiddenInput,
        help_text="In a few words; kept with the figure.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked: Sequence[Doubt] = ()
        for name in ("sure", "sure_why"):  # asked last, below what it is about
            self.fields[name] = self.fields.pop(name)

    def doubts(self) -> Sequence[Doubt]:
        """What is unlikely about the figures. Called only with clean data."""
        return ()

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.errors:
            return
        self.asked = self.doubts()
        if not self.asked:
            return
        impossible = any(one.impossible for one in self.asked)
        answer = hashlib.sha256("\n".join(one.text for one in self.asked).encode()).hexdigest()[:16]
        why = tidy(self.cleaned_data.get("sure_why") or "")
        self.cleaned_data["sure_why"] = why
        if self.cleaned_data.get("sure") == answer and (why or not impossible):
            return
        readable = dict(self.cleaned_data)
        for one in self.asked:
            self.add_error(one.field, one.text)
        self.cleaned_data = readable  # what is asked about can still be compared with
        self.fields["sure"].widget = _Tick(answer)
        if impossible:
            self.fields["sure_why"].widget = forms.TextInput(attrs={"maxlength": 60})

    @property
    def answered(self) -> str:
        """What was said about an impossible figure, to be kept with its reason. Else ""."""
        why = str(self.cleaned_data.get("sure_why") or "") if self.asked else ""
        return f" ({why})" if why else ""

    def keep_answer(self, thing: models.Model, *, acting: User) -> None:
        """One history row about `thing` for each question that was answered with yes."""
        for one in self.asked:
            record(
                acting,
                KEPT_AS_TYPED,
                thing,
                f"kept as typed: {one.text}",
                why=str(self.cleaned_data.get("sure_why") or ""),
            )
