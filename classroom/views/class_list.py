"""A course's class list, and adding to it: the list, what it would change, the change."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from classroom.forms.class_list import AddStudentsForm
from classroom.models import Course, User
from classroom.people.class_list import NEW, ListHasChanged, add_students, digest_of, look_at
from classroom.people.courses import refuse_when_closed
from classroom.people.roster import Roster, RosterLine
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.signin.known_devices import mark_of

from .courses import crumbs_to

SALT = "classroom.class-list"
PREVIEW_LASTS = 60 * 60  # seconds


@requires(Action.MANAGE_PEOPLE)
@require_safe
def class_list(request: Visit, pk: int) -> HttpResponse:
    course = course_for(request.user, pk)
    seats = list(course.seats.select_related("student"))
    here = [seat for seat in seats if seat.left_at is None]
    return render(
        request,
        "classroom/people/class_list.html",
        {
            "course": course,
            "rows": [{"seat": seat, "mark": mark_of(seat.student)} for seat in here],
            "without_card": sum(not seat.student.has_usable_password() for seat in here),
            "left": [seat for seat in seats if seat.left_at is not None],
            "crumbs": crumbs_to(course, "Class list"),
        },
    )


@requires(Action.MANAGE_PEOPLE)
@require_http_methods(["GET", "POST"])
def class_list_add(request: Visit, pk: int) -> HttpResponse:
    course = course_for(request.user, pk)
    refuse_when_closed(course)
    if "lines" in request.POST:
        return _save(request, course)
    if request.method == "GET":
        return _form(request, course, AddStudentsForm())
    form = AddStudentsForm(request.POST, request.FILES)
    if not form.is_valid():
        return _form(request, course, form)
    if "at_once" in request.POST and (done := _add_at_once(request, course, form.roster)):
        return done
    return _preview(request, course, form.roster)


def _form(request: Visit, course: Course, form: AddStudentsForm) -> HttpResponse:
    return render(
        request,
        "classroom/people/class_list_add.html",
        {"course": course, "form": form, "crumbs": _crumbs(course)},
    )


def _crumbs(course: Course) -> list[dict[str, Any]]:
    return [
        *crumbs_to(course, "x")[:2],
        {"label": "Class list", "url": reverse("class_list", args=[course.pk])},
        {"label": "Add students"},
    ]


def _add_at_once(request: Visit, course: Course, roster: Roster) -> HttpResponse | None:
    """One typed name that raises no question needs no second look."""
    intentions = look_at(course, roster.lines, acting=request.user)
    if len(intentions) != 1 or roster.skipped or intentions[0].proposed != NEW:
        return None
    came = add_students(course, roster.lines, {}, seen=digest_of(intentions), acting=request.user)
    return _done(request, course, came)


def _preview(
    request: Visit, course: Course, roster: Roster, chosen: dict[str, str] | None = None
) -> HttpResponse:
    """What would happen, with everything needed to do it signed into the page."""
    intentions = look_at(course, roster.lines, acting=request.user)
    kept = [[line.number, line.name, line.roster_id] for line in roster.lines]
    payload = {"course": course.pk, "by": request.user.pk, "lines": kept}
    rows = [
        {"intention": one, "chosen": (chosen or {}).get(one.field, one.proposed)}
        for one in intentions
    ]
    return render(
        request,
        "classroom/people/class_list_preview.html",
        {
            "course": course,
            "rows": rows,
            "count_new": sum(one.proposed == NEW for one in intentions),
            "count_ask": sum(one.kind == "caution" for one in intentions),
            "count_there": sum(one.kind == "closed" for one in intentions),
            "skipped": roster.skipped,
            "remarks": roster.remarks,
            "lines": signing.dumps(payload, salt=SALT, compress=True),
            "seen": digest_of(intentions),
            "crumbs": _crumbs(course),
        },
    )


def _save(request: Visit, course: Course) -> HttpResponse:
    try:
        payload = signing.loads(request.POST["lines"], salt=SALT, max_age=PREVIEW_LASTS)
    except signing.BadSignature as error:
        raise Refused("This preview is too old. Give the list once more.") from error
    if payload["course"] != course.pk or payload["by"] != request.user.pk:
        raise Refused("This preview belongs to another class list. Give the list once more.")
    lines = [
        RosterLine(number, name, roster_id=roster_id, name=name)
        for number, name, roster_id in payload["lines"]
    ]
    choices = {key: request.POST[key] for key in request.POST if key.startswith("do-")}
    try:
        came = add_students(
            course,
            lines,
            choices,
            seen=request.POST.get("seen", ""),
            acting=request.user,
        )
    except ListHasChanged as changed:
        messages.warning(request, str(changed))
        return _preview(request, course, Roster(lines=lines))
    return _done(request, course, came)


def _done(request: Visit, course: Course, came: list[User]) -> HttpResponse:
    if not came:
        messages.info(request, "Nothing to change: nobody was added.")
    elif len(came) == 1:
        messages.success(request, f"{came[0]} is in, with the user name {came[0].username}.")
    else:
        messages.success(request, f"{len(came)} students are in.")
    return redirect("class_list", course.pk)
