"""A student's record to print and to take along as a file."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_safe

from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import seat_for
from classroom.safety.texts import RECORD_NOTE
from classroom.wording.chosen_language import chosen_language, language_links
from inventory.spreadsheets import csv_response
from studio.telling.records.student_record import head, record_of, signed_words


@requires(Action.SEE_RECORD)
@require_GET
def student_record(request: Visit, seat_pk: int) -> HttpResponse:
    """The teacher's students, and each student's own."""
    seat = seat_for(request.user, seat_pk)
    language = chosen_language(request, request.user.school)
    back = reverse("seat", args=[seat_pk]) if request.user.is_teacher else reverse("own_account")
    asked_for_words = request.GET.get("words") == "all"
    with translation.override(language):
        return printed(
            request,
            "studio/prints/student_record.html",
            lambda: {
                "seat": seat,
                "entries": record_of(seat),
                "signed_words": signed_words(seat) if asked_for_words else [],
                "words_url": "" if asked_for_words else _with_words(request),
                "record_note": gettext(RECORD_NOTE),
                "lang": language,
                "languages": language_links(request, language),
                "back_url": back,
                "csv_url": f"{reverse('student_record_csv', args=[seat_pk])}?lang={language}",
            },
            name=f"record-{seat.student}-{language}",
        )


def _with_words(request: Visit) -> str:
    query = request.GET.copy()
    query["words"] = "all"
    return f"{request.path}?{query.urlencode()}"


@requires(Action.SEE_RECORD)
@require_safe
def student_record_csv(request: Visit, seat_pk: int) -> HttpResponse:
    seat = seat_for(request.user, seat_pk)
    with translation.override(chosen_language(request, request.user.school)):
        rows = [entry.cells() for entry in record_of(seat)]
        return csv_response(f"record {seat.student}", head(), rows)
