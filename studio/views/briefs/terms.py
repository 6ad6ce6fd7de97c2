"""From term to term: last term's briefs for a new course, and a course kept as a file."""

from __future__ import annotations

import io

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from studio.forms.briefs.copying import CopyBriefsForm
from studio.steps.briefs.copy import copy_briefs
from studio.telling.records.archive import write_archive


@requires(Action.MANAGE_BRIEF)
@require_http_methods(["GET", "POST"])
def briefs_copy(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    form = CopyBriefsForm(request.POST or None, target=course, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            made = copy_briefs(form.cleaned_data["source"], course, acting=request.user)
            count = f"{len(made)} brief{'' if len(made) == 1 else 's'}"
            return done(
                request,
                f"{count} copied. Due dates are yours to set.",
                f"{reverse('briefs')}?course={course.pk}",
            )
    address = reverse("course", args=[course.pk])
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Briefs of another course",
            "lead": f"All of them are copied into {course}, open and without a due date. What is "
            "there under the same title already is left out.",
            "button": "Copy them",
            "back_url": address,
            "crumbs": [
                {"label": "Courses", "url": reverse("course_list")},
                {"label": str(course), "url": address},
                {"label": "Copy briefs"},
            ],
        },
    )


@requires(Action.MANAGE_COURSE)
@require_GET
def course_archive(request: Visit, course_pk: int) -> HttpResponse:
    """The course as a ZIP of tables."""
    course = course_for(request.user, course_pk)
    file = io.BytesIO()
    write_archive(course, file)
    name = slugify(f"{course} {course.term}") or "course"
    answer = HttpResponse(file.getvalue(), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="{name}.zip"'
    answer["Cache-Control"] = "private, no-store"
    return answer
