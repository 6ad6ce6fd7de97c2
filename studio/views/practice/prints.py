"""A practice sheet on paper; its known answer, for teachers."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_GET

from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import language_links, shown_in_chosen_language
from studio.core.practice import Sheet
from studio.prints.practice.cut_out import (
    ANSWER_TEMPLATE,
    TEMPLATE,
    answer_context,
    cut_out_context,
)
from studio.views.prints.printer_choice import correction_for, remembered

from .sheets import sheet_called


@requires(Action.PRACTISE)
@require_GET
@shown_in_chosen_language
def practice_print(request: Visit, sheet: str) -> HttpResponse:
    """To be cut out and laid on a desk at true size."""
    one = sheet_called(sheet)

    def context() -> dict[str, Any]:
        correction = correction_for(request)
        paper = cut_out_context(one, school=request.user.school, printer=correction["printer"])
        return paper | correction | _around(request, one)

    name = f"practice-{one.code}-{get_language() or 'en'}"
    return remembered(request, printed(request, TEMPLATE, context, name=name))


@requires(Action.MANAGE_BRIEF)
@require_GET
@shown_in_chosen_language
def practice_answer_print(request: Visit, sheet: str) -> HttpResponse:
    """The known answer in small. Teachers alone: who has it lying about need not look for one."""
    one = sheet_called(sheet)
    name = f"practice-answer-{one.code}-{get_language() or 'en'}"

    def context() -> dict[str, Any]:
        return answer_context(one) | _around(request, one)

    return printed(request, ANSWER_TEMPLATE, context, name=name, short=True)


def _around(request: Visit, one: Sheet) -> dict[str, Any]:
    """The language that is on, the way to the others and the way back."""
    language = get_language() or "en"
    return {
        "lang": language,
        "languages": language_links(request, language),
        "back_url": reverse("practice_sheet", args=[one.code]),
    }
