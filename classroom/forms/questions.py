"""Forms of a topic's questions and of its translation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from classroom.models import TopicWording
from classroom.wording.typed_lines import plain_line, tidy

from .safety import LinesField

QUESTIONS_MOST = 12


class WrongAnswers(LinesField):
    most = 5


class QuestionForm(forms.Form):
    text = forms.CharField(label="Question", max_length=200)
    right = forms.CharField(label="The right answer", max_length=160)
    wrong = WrongAnswers(
        label="Wrong answers", help_text="A line each.", widget=forms.Textarea(attrs={"rows": 3})
    )
    why = forms.CharField(
        label="Why", max_length=300, help_text="The student reads it after answering."
    )

    def clean_text(self) -> str:
        return plain_line(self.cleaned_data["text"])

    def clean_right(self) -> str:
        return plain_line(self.cleaned_data["right"])

    def clean_why(self) -> str:
        return tidy(self.cleaned_data["why"])

    def clean(self) -> dict[str, Any]:
        super().clean()
        wrong = [one.casefold() for one in self.cleaned_data.get("wrong") or []]
        right = str(self.cleaned_data.get("right", "")).casefold()
        if right in wrong:
            self.add_error("wrong", "The right answer stands among the wrong ones.")
        elif len(set(wrong)) < len(wrong):
            self.add_error("wrong", "The same answer stands there twice.")
        elif any(len(one) > 160 for one in wrong):
            self.add_error("wrong", "An answer has at most 160 characters.")
        return self.cleaned_data


class BaseQuestions(forms.BaseFormSet[QuestionForm]):
    row_name = "Question"  # said in the summary of what is to be put right

    def questions(self) -> list[dict[str, Any]]:
        """What the (valid) forms say, without the emptied and the removed ones."""
        names = ("text", "right", "wrong", "why")
        return [
            {name: form.cleaned_data[name] for name in names}
            for form in self.forms
            if form.cleaned_data.get("text") and not form.cleaned_data.get("DELETE")
        ]


def questions_formset(
    data: Any, questions: Iterable[Mapping[str, Any]], *, extra: int = 2
) -> BaseQuestions:
    made = forms.formset_factory(
        QuestionForm,
        formset=BaseQuestions,
        extra=extra,
        max_num=QUESTIONS_MOST,
        absolute_max=QUESTIONS_MOST,
        validate_max=True,
        can_delete=True,
    )
    formset = made(data, initial=[dict(one) for one in questions], prefix="q")
    assert isinstance(formset, BaseQuestions)
    for form in formset:
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = "Leave this question out"
    return formset


class TranslationForm(forms.Form):
    title = forms.CharField(max_length=80)
    lesson = LinesField(widget=forms.Textarea(attrs={"rows": 9}), help_text="A point a line.")
    checks = LinesField(
        label="Practical checks",
        widget=forms.Textarea(attrs={"rows": 7}),
        help_text="A point a line.",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=10**6)

    def clean_title(self) -> str:
        return plain_line(self.cleaned_data["title"])

    @staticmethod
    def of(wording: TopicWording | None) -> dict[str, Any]:
        if wording is None:
            return {"seen": 0}
        names = ("title", "lesson", "checks")
        return {name: getattr(wording, name) for name in names} | {"seen": wording.number}
