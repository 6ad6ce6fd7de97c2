"""One student's place in a course: name, leaving, coming back, moving."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from classroom.forms.class_list import MoveForm, StudentForm
from classroom.models import Seat
from classroom.people.class_list import come_back, leave, move, rename
from classroom.permissions import Action, Visit, requires
from classroom.queries import erasure_of, seat_for, student_for
from classroom.safety.permits import standing_of
from classroom.signin.known_devices import mark_of

from .courses import crumbs_to


@requires(Action.MANAGE_PEOPLE)
@require_http_methods(["GET", "POST"])
def seat(request: Visit, pk: int) -> HttpResponse:
    one = seat_for(request.user, pk)
    student = one.student
    # A row of its own: a form that is refused must not change the name on the page.
    form = StudentForm(request.POST or None, instance=student_for(request.user, student.pk))
    if request.method == "POST" and form.is_valid():
        rename(
            student,
            display_name=form.cleaned_data["display_name"],
            roster_id=form.cleaned_data["roster_id"],
            acting=request.user,
        )
        messages.success(request, "The name and id are saved.")
        return redirect("seat", pk)
    return _page(request, one, form, MoveForm(acting=request.user, away_from=one.course))


def _page(request: Visit, one: Seat, form: StudentForm, move_form: MoveForm) -> HttpResponse:
    student = one.student
    return render(
        request,
        "classroom/people/seat.html",
        {
            "seat": one,
            "erasure": erasure_of(student),
            "form": form,
            "move_form": move_form,
            "can_move": move_form.fields["course"].queryset.exists(),  # type: ignore[attr-defined]
            "mark": mark_of(student),
            "standings": standing_of(student, timezone.localdate()),
            "crumbs": [*crumbs_to(one.course, "x")[:2], {"label": str(student)}],
        },
    )


@requires(Action.MANAGE_PEOPLE)
@require_POST
def seat_leave(request: Visit, pk: int) -> HttpResponse:
    one = seat_for(request.user, pk)
    leave(one, acting=request.user)
    messages.success(request, f"{one.student} has left {one.course}. The work stays readable.")
    return redirect("class_list", one.course_id)


@requires(Action.MANAGE_PEOPLE)
@require_POST
def seat_return(request: Visit, pk: int) -> HttpResponse:
    one = seat_for(request.user, pk)
    come_back(one, acting=request.user)
    messages.success(request, f"{one.student} is back in {one.course}.")
    return redirect("class_list", one.course_id)


@requires(Action.MANAGE_PEOPLE)
@require_POST
def seat_move(request: Visit, pk: int) -> HttpResponse:
    one = seat_for(request.user, pk)
    form = MoveForm(request.POST, acting=request.user, away_from=one.course)
    if not form.is_valid():
        return _page(request, one, StudentForm(instance=one.student), form)
    new = move(one, form.cleaned_data["course"], acting=request.user)
    messages.success(request, f"{one.student} is now in {new.course}.")
    return redirect("class_list", new.course_id)
