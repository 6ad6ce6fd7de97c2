"""How pieces are placed in the whole school, and where a course does it otherwise."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.models import Course
from classroom.permissions import Action, Visit, may, requires
from classroom.queries import course_for
from studio.forms.plans.room_picture import room_pictures
from studio.forms.plans.settings import PlacingSettingsForm
from studio.models import Shear
from studio.queries.plans import ways_of_latest_plan
from studio.steps.bench.tools import tools_of
from studio.steps.plans import placing_settings as rules

from .ways_shown import way_title


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def placing_settings(request: Visit) -> HttpResponse:
    return _page(request, None)


@requires(Action.MANAGE_PLAN)
@require_http_methods(["GET", "POST"])
def course_placing_settings(request: Visit, course_pk: int) -> HttpResponse:
    return _page(request, course_for(request.user, course_pk))


def _page(request: Visit, course: Course | None) -> HttpResponse:
    school = request.user.school
    now = rules.rules_for(school, course)
    tools = tools_of(school)
    form = PlacingSettingsForm(
        request.POST or None,
        school=school,
        said=rules.said_by(school, course),
        below=rules.rules_for(school) if course else rules.PlacingRules(),
        now=now,
        whose="As the school" if course else "Usually",
    )
    if request.method == "POST" and form.is_valid():
        if rules.set_rules(school, course, form.said, acting=request.user):
            messages.success(request, "Kept. Plans asked for from now on are placed like this.")
        else:
            messages.info(request, "Nothing was changed.")
        if course is None:
            return redirect("placing_settings")
        return redirect("course_placing_settings", course_pk=course.pk)
    if course is None:
        crumbs = [{"label": "The school", "url": reverse("school_settings")}]
    else:
        crumbs = [{"label": str(course), "url": reverse("course", args=[course.pk])}]
    (room,) = room_pictures([("", now.room())], now.kerf_mm(now.blade))
    context = {
        "rules": now,
        "tools": tools,
        "latest": [(way_title(row.way), row) for row in ways_of_latest_plan(course)]
        if course
        else [],
        "tools_word": Shear(tools.shear).label,
        "room": room,
        "course": course,
        "form": form,
        "crumbs": [*crumbs, {"label": "How pieces are placed"}],
        "may_change_school": course is not None and may(request.user, Action.KEEP_SCHOOL),
    }
    return render(
        request,
        "studio/plans/settings.html",
        context,
        status=422 if request.method == "POST" else 200,
    )
