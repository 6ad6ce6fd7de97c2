"""The list of practice sheets."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import get_language
from django.views.decorators.http import require_GET

from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import language_links, shown_in_chosen_language

from .rules import rules_to_teach
from .shown import rows_for


@requires(Action.PRACTISE)
@require_GET
@shown_in_chosen_language
def practice(request: Visit) -> HttpResponse:
    """All sheets, with one's own progress alone."""
    context = {
        "rows": rows_for(request.user),
        "taught": rules_to_teach(request),
        "languages": language_links(request, get_language() or "en"),
    }
    return render(request, "studio/practice/list.html", context)
