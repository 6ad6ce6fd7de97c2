"""Pages that students read in every language, and on which teachers decide in the house's own."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpResponse

from classroom.permissions import Visit
from classroom.wording.chosen_language import shown_in_chosen_language


def in_a_students_language(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """What a student sees is told in every language; what a teacher decides is not."""
    chosen = shown_in_chosen_language(view)

    @wraps(view)
    def shown(request: Visit, *args: Any, **kwargs: Any) -> HttpResponse:
        answer: HttpResponse = (chosen if request.user.is_student else view)(
            request, *args, **kwargs
        )
        return answer

    return shown
