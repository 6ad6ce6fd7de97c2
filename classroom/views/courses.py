"""A teacher's courses: the list, one course, making, changing, closing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.forms.course import CourseForm
from classroom.models import Course
from classroom.people.courses import (
    close_course,
    reasons_against_closing,
    reopen_course,
    save_course,
)
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, courses_for

COURSES_PER_PAGE = 24

PARTS = (
    ("c-people", "The class", ("class_list", "permits", "class_bench")),
    (
        "c-work",
        "The work",
        (
            "briefs",
            "patterns_waiting",
            "plans",
            "plan_new",
            "course_placing_settings",
            "brief_new",
            "briefs_copy",
        ),
    ),
    ("c-money", "The money", ("budget", "course_review")),
    (
        "c-paper",
        "To print and to keep",
        ("class_safety_checklist", "class_preparation_checklist", "course_archive"),
    ),
)
"""What a course's page leads to: id and title of each part, and the names of its addresses."""
WAYS = {
    "class_list": ("Class list", "Students, sign-in cards, who came and who left."),
    "permits": ("Bench permits", "Who may use which tool, until when."),
    "class_bench": ("Class bench", "What everybody is doing, and who waits for a sign-off."),
    "briefs": ("Briefs", "What the class makes, and how far everybody is."),
    "patterns_waiting": ("Patterns waiting", "Handed in, and not looked at yet."),
    "plans": ("Cut plans", "Whose pieces lie where on which metal."),
    "plan_new": ("New cut plan", "Several students' pieces on the same metal."),
    "course_placing_settings": (
        "How pieces are placed",
        "Kerf, smallest offcut, rough edges, grain, worth of sawing.",
    ),
    "brief_new": ("New brief", "What the class makes next, and within which limits."),
    "briefs_copy": ("Last term's briefs", "Copy all briefs of another course into this one."),
    "budget": ("Metal budget", "Allotted, committed, charged and left."),
    "course_review": ("Waste and cost", "Where the metal and the money went."),
    "class_safety_checklist": ("Safety checklist", "To print and sign, for the whole class."),
    "class_preparation_checklist": (
        "Preparation checklist",
        "To print, for the day when metal is prepared.",
    ),
    "course_archive": ("Keep the course as a file", "All its tables in one ZIP, for your archive."),
}
OF_ALL_COURSES = {"briefs", "patterns_waiting", "plans"}
"""Lists of the whole school, which are narrowed to the course."""
WHILE_OPEN = {"plan_new", "course_placing_settings", "brief_new", "briefs_copy"}
"""What is only done while the course is not closed."""


def crumbs_to(course: Course, here: str = "") -> list[dict[str, Any]]:
    """Where we are: courses, the course and, where given, the page inside it."""
    crumbs = [
        {"label": "Courses", "url": reverse("course_list")},
        {"label": str(course), "url": reverse("course", args=[course.pk])},
    ]
    if here:
        return [*crumbs, {"label": here}]
    return [crumbs[0], {"label": str(course)}]


@requires(Action.SEE_COURSE)
@require_safe
def course_list(request: Visit) -> HttpResponse:
    closed = request.GET.get("show") == "closed"
    courses = (
        courses_for(request.user)
        .filter(closed_at__isnull=not closed)
        .annotate(students=Count("seats", filter=Q(seats__left_at=None), distinct=True))
        .order_by("-starts_on", "title", "section", "pk")
    )
    page = Paginator(courses, COURSES_PER_PAGE).get_page(request.GET.get("page"))
    sections = [
        {"label": "Running", "url": reverse("course_list"), "current": not closed},
        {"label": "Closed", "url": f"{reverse('course_list')}?show=closed", "current": closed},
    ]
    return render(
        request,
        "classroom/people/course_list.html",
        {
            "page": page,
            "closed": closed,
            "sections": sections,
            "aria_label": "Courses",
            "keep": "show=closed" if closed else "",
        },
    )


@requires(Action.SEE_COURSE)
@require_safe
def course(request: Visit, pk: int) -> HttpResponse:
    one = course_for(request.user, pk)
    seats = one.seats.taken()
    without_card = seats.without_passphrase().count()
    return render(
        request,
        "classroom/people/course.html",
        {
            "course": one,
            "teachers": one.teachers.order_by("display_name", "pk"),
            "students": seats.count(),
            "without_card": without_card,
            "against_closing": reasons_against_closing(one) if one.closed_at is None else [],
            "parts": [
                {"id": anchor, "title": title, "ways": _ways(one, names)}
                for anchor, title, names in PARTS
            ],
            "crumbs": crumbs_to(one),
        },
    )


def _ways(course: Course, names: Iterable[str]) -> list[dict[str, str]]:
    """The cards of a part: address, title, text."""
    return [
        {"url": _address(name, course), "title": WAYS[name][0], "text": WAYS[name][1]}
        for name in names
        if course.closed_at is None or name not in WHILE_OPEN
    ]


def _address(name: str, course: Course) -> str:
    if name in OF_ALL_COURSES:
        return f"{reverse(name)}?course={course.pk}"
    return reverse(name, args=[course.pk])


@requires(Action.MANAGE_COURSE)
@require_http_methods(["GET", "POST"])
def course_new(request: Visit) -> HttpResponse:
    form = CourseForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        made = save_course(form.instance, form.cleaned_data["teachers"], acting=request.user)
        messages.success(request, f"{made} is open. Next: its class list.")
        return _to_course_or_list(request, made)
    crumbs = [{"label": "Courses", "url": reverse("course_list")}, {"label": "New course"}]
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": "New course",
            "lead": "One class section in one term.",
            "button": "Make the course",
            "back_url": reverse("course_list"),
            "crumbs": crumbs,
        },
    )


@requires(Action.MANAGE_COURSE)
@require_http_methods(["GET", "POST"])
def course_edit(request: Visit, pk: int) -> HttpResponse:
    one = course_for(request.user, pk)
    called = str(one)
    form = CourseForm(request.POST or None, instance=one, acting=request.user)
    if request.method == "POST" and form.is_valid():
        save_course(one, form.cleaned_data["teachers"], acting=request.user)
        messages.success(request, f"{one} is changed.")
        return _to_course_or_list(request, one)
    crumbs = [
        {"label": "Courses", "url": reverse("course_list")},
        {"label": called, "url": reverse("course", args=[pk])},
        {"label": "Change"},
    ]
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": f"Change {called}",
            "button": "Save the course",
            "back_url": reverse("course", args=[pk]),
            "crumbs": crumbs,
        },
    )


@requires(Action.MANAGE_COURSE)
@require_POST
def course_close(request: Visit, pk: int) -> HttpResponse:
    one = course_for(request.user, pk)
    close_course(one, acting=request.user)
    messages.success(request, f"{one} is closed. You find it under “Closed”.")
    return redirect("course", pk)


@requires(Action.MANAGE_COURSE)
@require_POST
def course_reopen(request: Visit, pk: int) -> HttpResponse:
    one = course_for(request.user, pk)
    reopen_course(one, acting=request.user)
    messages.success(request, f"{one} is open again.")
    return redirect("course", pk)


def _to_course_or_list(request: Visit, one: Course) -> HttpResponse:
    """Whoever takes their own name off a course no longer sees it."""
    if courses_for(request.user).filter(pk=one.pk).exists():
        return redirect("course", one.pk)
    return redirect("course_list")
