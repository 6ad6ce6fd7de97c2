"""Names that may be erased now, and one student's on request, for who looks after the school."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.views.decorators.http import require_GET, require_http_methods

from classroom.acting import done, said_on
from classroom.erasing import (
    correct_erasure,
    due,
    erase_due,
    erase_on_request,
    look_at,
    request_of,
)
from classroom.erasing.on_request import backup_days
from classroom.forms.erasing import CorrectRequestForm, EraseForm
from classroom.models import User
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import erasable, erasable_for, erasure_for, erasures_for, seats_for
from classroom.wording.chosen_language import chosen_language, language_links

ERASURES_PER_PAGE = 25
MOST_FOUND = 20


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def old_names(request: Visit) -> HttpResponse:
    """POST erases the ticked names among those that are due; `q` looks for one student."""
    school = request.user.school
    if request.method == "POST":
        ticked = request.POST.getlist("students")[:3000]
        only = [int(one) for one in ticked if one.isascii() and one.isdigit() and len(one) < 18]
        gone = erase_due(school, acting=request.user, only=only)
        if gone:
            count = "1 name is" if len(gone) == 1 else f"{len(gone)} names are"
            messages.success(request, f"{count} erased. Rows and counts are as before.")
        else:
            messages.error(request, "Tick at least one name that is due.")
        return redirect("old_names")
    wanted = " ".join(request.GET.get("q", "")[:80].replace("\0", "").split())
    return render(
        request,
        "classroom/people/old_names.html",
        {
            "students": due(school, timezone.localdate()),
            "q": wanted,
            "found": _found(request.user, wanted) if wanted else [],
            "page": Paginator(erasures_for(request.user), ERASURES_PER_PAGE).get_page(
                request.GET.get("page")
            ),
            "crumbs": [*_crumbs("")[:1], {"label": "Names that go"}],
        },
    )


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def student_erase(request: Visit, pk: int) -> HttpResponse:
    """What would go and what stays, and the form that does it."""
    student = erasable(request.user, pk)
    form = EraseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            made = erase_on_request(
                student, form.request, typed=form.cleaned_data["typed"], acting=request.user
            )
            return done(
                request,
                f"Done. The student is {made.student} from now on.",
                "erasure_print",
                made.pk,
            )
    seats = list(student.seats.select_related("course").prefetch_related("course__teachers"))
    open_to_them = set(seats_for(request.user).filter(student=student).values_list("pk", flat=True))
    return render(
        request,
        "classroom/people/student_erase.html",
        {
            "student": student,
            "seen": look_at(student),
            "form": form,
            "records": [seat for seat in seats if seat.pk in open_to_them],
            "elsewhere": [seat for seat in seats if seat.pk not in open_to_them],
            "crumbs": _crumbs(str(student)),
        },
    )


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def erasure_correct(request: Visit, pk: int) -> HttpResponse:
    """Who asked, or when, was written down wrongly."""
    one = erasure_for(request.user, pk)
    asked_by, asked_on = request_of(one)
    form = CorrectRequestForm(
        request.POST or None, initial={"asked_by": asked_by, "asked_on": asked_on}
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            correct_erasure(one, **form.cleaned_data, acting=request.user)
            return done(
                request,
                "The record says so now; what it said before is kept.",
                "erasure_print",
                one.pk,
            )
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": f"Correct the record of {one.student}",
            "lead": "Only who asked for it, and when. What was erased stays erased.",
            "button": "Write the correction down",
            "back_url": reverse("old_names"),
            "crumbs": _crumbs("Correct the record"),
        },
    )


@requires(Action.KEEP_SCHOOL)
@require_GET
def erasure_print(request: Visit, pk: int) -> HttpResponse:
    """The record of one erasure, to look at and to give to whoever asked for it."""
    one = erasure_for(request.user, pk)
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        return printed(
            request,
            "classroom/prints/erasure.html",
            lambda: {
                "erasure": one,
                "corrections": list(one.corrections.select_related("done_by")),
                "backup_days": backup_days(),
                "lang": language,
                "languages": language_links(request, language),
                "back_url": reverse("old_names"),
            },
            name=f"erasure-{one.pk}-{language}",
            short=True,
        )


def _found(user: User, wanted: str) -> list[User]:
    """Students of that name or user name."""
    students = erasable_for(user).filter(
        Q(display_name__icontains=wanted) | Q(username__icontains=wanted.lower())
    )
    return list(students.order_by("display_name", "pk")[:MOST_FOUND])


def _crumbs(here: str) -> list[dict[str, Any]]:
    return [
        {"label": "The school", "url": reverse("school_settings")},
        {"label": "Names that go", "url": reverse("old_names")},
        {"label": here},
    ]
