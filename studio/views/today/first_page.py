"""The first page: it answers what everybody asks on coming in."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from classroom.permissions import Action, Visit, requires
from studio.queries.errands import errands_to_show
from studio.telling.today.next_things import students_day
from studio.telling.today.stages import trail
from studio.telling.today.teachers_day import teachers_day


@requires(Action.SEE_FIRST_PAGE)
def first_page(request: Visit) -> HttpResponse:
    errands = errands_to_show(request.user)
    if request.user.is_teacher:
        day = teachers_day(request.user)
        return render(request, "studio/today/teacher.html", {"day": day, "errands": errands})
    entries = [
        {
            "thing": thing,
            "trail": trail(thing.project, {}, waits=thing.waiting) if thing.project else [],
        }
        for thing in students_day(request.user)
    ]
    return render(request, "studio/today/student.html", {"entries": entries, "errands": errands})
