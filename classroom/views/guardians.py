"""Signed guardian forms of a course, and permits that a student has to earn again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from classroom.acting import done, said_on
from classroom.forms.guardians import AskAgainForm, SignaturesForm, TakeBackForm
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, permits_for, seat_for, students_in
from classroom.refusals import Refused
from classroom.safety.guardians import record_signatures, signatures, take_back
from classroom.safety.permits import ask_again

from .courses import crumbs_to


@requires(Action.GIVE_PERMIT)
@require_http_methods(["GET", "POST"])
def guardian_forms(request: Visit, pk: int) -> HttpResponse:
    course = course_for(request.user, pk)
    seats = list(course.seats.taken().select_related("student"))
    form = SignaturesForm(request.POST or None, students=students_in(course))
    if request.method == "POST" and form.is_valid():
        with said_on(form, "signed_on"):
            said = form.cleaned_data
            made = record_signatures(
                said["students"], signed_on=said["signed_on"], acting=request.user
            )
            count = "1 signed form" if len(made) == 1 else f"{len(made)} signed forms"
            return done(request, f"{count} recorded.", "guardian_forms", pk)
    signed = signatures([seat.student for seat in seats], timezone.localdate())
    ticked = {str(one) for one in form["students"].value() or []}
    return render(
        request,
        "classroom/safety/guardian_forms.html",
        {
            "course": course,
            "form": form,
            "any_signed": bool(signed),
            "rows": [
                {
                    "seat": seat,
                    "student": seat.student,
                    "signed": signed.get(seat.student_id),
                    "ticked": str(seat.student_id) in ticked,
                }
                for seat in seats
            ],
            "crumbs": [
                *crumbs_to(course, "x")[:2],
                {"label": "Bench permits", "url": reverse("permits", args=[pk])},
                {"label": "Guardian forms"},
            ],
        },
    )


@requires(Action.GIVE_PERMIT)
@require_http_methods(["GET", "POST"])
def guardian_take_back(request: Visit, pk: int) -> HttpResponse:
    """`pk` is the student's seat."""
    seat = seat_for(request.user, pk)
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            take_back(seat.student, acting=request.user, reason=form.cleaned_data["reason"])
        except Refused as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, f"The form of {seat.student} no longer counts.")
        return redirect("guardian_forms", seat.course_id)
    back = reverse("guardian_forms", args=[seat.course_id])
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": f"Guardian form of {seat.student}",
            "lead": "It no longer counts for new permits. Permits given so far stay in force; "
            "withdraw them on the student's page where the guardian asks for it.",
            "button": "The form no longer counts",
            "back_url": back,
            "crumbs": [
                *crumbs_to(seat.course, "x")[:2],
                {"label": "Guardian forms", "url": back},
                {"label": str(seat.student)},
            ],
        },
    )


@requires(Action.GIVE_PERMIT)
@require_http_methods(["GET", "POST"])
def permits_again(request: Visit, pk: int) -> HttpResponse:
    """Withdraw several permits of the student in the seat `pk`, so that they are earned again."""
    seat = seat_for(request.user, pk)
    permits = (
        permits_for(request.user)
        .in_force(timezone.localdate())
        .filter(student=seat.student)
        .order_by("topic__title", "pk")
    )
    form = AskAgainForm(request.POST or None, permits=permits, school=request.user.school)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            said = form.cleaned_data
            count = ask_again(said["permits"], acting=request.user, reason=said["reason"])
            what = "1 permit" if count == 1 else f"{count} permits"
            return done(request, f"{seat.student} has to earn {what} again.", "seat", pk)
    crumbs = [
        *crumbs_to(seat.course, "x")[:2],
        {"label": str(seat.student), "url": reverse("seat", args=[pk])},
        {"label": "Permits again"},
    ]
    if not permits and not form.is_bound:
        messages.info(request, f"{seat.student} has no permit in force.")
        return redirect("seat", pk)
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": f"{seat.student} needs permits again",
            "lead": "After an absence, or when something has happened. Questions and practical "
            "check are then done again; the record of the old permits stays.",
            "button": "Ask for them again",
            "back_url": reverse("seat", args=[pk]),
            "crumbs": crumbs,
        },
    )
