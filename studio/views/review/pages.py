"""Waste and cost, looked back at: per course, brief and student; a student's own statement."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from classroom.models import Course
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, courses_for, seat_for, seats_for
from studio.queries.briefs import brief_for
from studio.queries.plans import returns_in
from studio.telling.review.balances import added, added_by, closed_of
from studio.telling.review.charts import term_bars
from studio.telling.review.shown import (
    ROWS_PER_PAGE,
    overview_rows,
    review_context,
    student_context,
)
from studio.telling.review.tables import as_csv

COURSES_PER_PAGE = 20


@requires(Action.REVIEW_COSTS)
@require_GET
def review(request: Visit) -> HttpResponse:
    courses = courses_for(request.user).distinct()
    page = Paginator(courses, COURSES_PER_PAGE).get_page(request.GET.get("page"))
    rows = overview_rows(request.user, list(page.object_list))
    every = rows if page.paginator.num_pages == 1 else overview_rows(request.user, list(courses))
    closed = closed_of(returns_in(courses))
    context = {
        "page": page,
        "rows": rows,
        "terms": term_bars(every, request.user.school),
        "balances": added_by(closed, "term"),
        "balance_all": added("All terms", closed),
    }
    return render(request, "studio/review/overview.html", context)


@requires(Action.REVIEW_COSTS)
@require_GET
def course_review(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    context = review_context(request.user, course, request.GET)
    crumbs = [_home(), {"label": str(course)}]
    return _page(request, context | {"crumbs": crumbs, "title": str(course)})


@requires(Action.REVIEW_COSTS)
@require_GET
def brief_review(request: Visit, brief_pk: int) -> HttpResponse:
    brief = brief_for(request.user, brief_pk)
    context = review_context(request.user, brief.course, request.GET, brief=brief)
    crumbs = [_home(), _course(brief.course), {"label": brief.title}]
    return _page(request, context | {"crumbs": crumbs, "title": brief.title})


def _page(request: Visit, context: dict[str, Any]) -> HttpResponse:
    page = Paginator(context["rows"], ROWS_PER_PAGE).get_page(request.GET.get("page"))
    keep = request.GET.copy()
    keep.pop("page", None)
    context |= {"page": page, "keep": keep.urlencode()}
    return render(request, "studio/review/course.html", context)


@requires(Action.REVIEW_COSTS)
@require_GET
def student_review(request: Visit, seat_pk: int) -> HttpResponse:
    seat = seat_for(request.user, seat_pk)
    context = student_context(request.user, [seat], seat.course.school)
    context |= {
        "seat": seat,
        "title": str(seat.student),
        "crumbs": [_home(), _course(seat.course), {"label": str(seat.student)}],
    }
    return render(request, "studio/review/student.html", context)


@requires(Action.SEE_OWN_STATEMENT)
@require_GET
def statement(request: Visit) -> HttpResponse:
    seats = list(seats_for(request.user))
    context = student_context(request.user, seats, request.user.school)
    context |= {"title": "What my metal costs", "own": True}
    return render(request, "studio/review/student.html", context)


@requires(Action.REVIEW_COSTS)
@require_GET
def review_csv(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    context = review_context(request.user, course, request.GET)
    text = as_csv(context["rows"], context["own_layouts"], course.school.currency)
    # The mark at the beginning tells spreadsheets that names with accents are UTF-8.
    response = HttpResponse(f"\ufeff{text}", content_type="text/csv; charset=utf-8")
    name = slugify(f"waste-and-cost-{course}") or "waste-and-cost"
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    response["Cache-Control"] = "private, no-store"
    return response


@requires(Action.REVIEW_COSTS)
@require_GET
def review_xlsx(request: Visit, course_pk: int) -> HttpResponse:
    from studio.telling.review.workbook import as_xlsx  # slow to load, and seldom asked for

    course = course_for(request.user, course_pk)
    context = review_context(request.user, course, request.GET)
    response = HttpResponse(
        as_xlsx(context["rows"], context["own_layouts"], course.school.currency),
        content_type="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    )
    name = slugify(f"waste-and-cost-{course}") or "waste-and-cost"
    response["Content-Disposition"] = f'attachment; filename="{name}.xlsx"'
    response["Cache-Control"] = "private, no-store"
    return response


@requires(Action.REVIEW_COSTS)
@require_GET
def review_print(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)

    def context() -> dict[str, Any]:
        back_url = reverse("course_review", args=[course.pk])
        return review_context(request.user, course, request.GET) | {"back_url": back_url}

    return printed(request, "studio/prints/review.html", context, name=f"waste-and-cost-{course}")


def _home() -> dict[str, str]:
    return {"label": "Waste and cost", "url": reverse("review")}


def _course(course: Course) -> dict[str, str]:
    return {"label": str(course), "url": reverse("course_review", args=[course.pk])}
