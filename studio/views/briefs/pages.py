"""Briefs: the list, one brief for its teacher or its student, and writing one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from classroom.acting import done, said_on
from classroom.models import Course
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for, courses_for
from inventory import metals
from studio.core.bench.texts import TEXTS, BenchStepKind
from studio.forms.briefs.brief import BriefForm, EarlierBriefForm, copied_from
from studio.forms.plans.hands import room_words
from studio.forms.plans.room_picture import pictures_of_hands
from studio.models import Brief, Project
from studio.queries.briefs import brief_for, briefs_for
from studio.queries.patterns import projects_for
from studio.steps.briefs import write as steps
from studio.steps.plans.placing_settings import rules_for
from studio.telling.today.stages import stage_words
from studio.views.house.filters import chosen_course, query
from studio.views.patterns.class_table import class_table
from studio.views.practice.rules import rules_to_teach

ON_A_PAGE = 20


@requires(Action.SEE_BRIEF)
def brief_list(request: Visit) -> HttpResponse:
    """A teacher's briefs with how many patterns wait, or a student's with where each stands."""
    rows = briefs_for(request.user).prefetch_related("metals")
    if request.user.is_teacher:
        rows = rows.annotate(
            started=Count("projects", distinct=True),
            waiting=Count(
                "projects", filter=Q(projects__stage=Project.Stage.HANDED_IN), distinct=True
            ),
        )
    course = chosen_course(request)
    if course is not None:
        rows = rows.filter(course=course)
    shown = "closed" if request.GET.get("show") == "closed" else "open"
    is_closed = Q(closed_at__isnull=False) | Q(course__closed_at__isnull=False)
    rows = rows.filter(is_closed) if shown == "closed" else rows.exclude(is_closed)
    rows = rows.order_by("closed_at", "due_on", "title", "pk")
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    context: dict[str, Any] = {
        "page": page,
        "shown": shown,
        "course": course,
        "keep": query(course, show="closed") if shown == "closed" else query(course),
        "sections": _sections(shown, course),
    }
    if request.user.is_teacher:
        running = courses_for(request.user).filter(closed_at=None)
        context["courses"] = (running.filter(pk=course.pk) if course else running)[:12]
        context["lead"] = "What your classes make, and within which limits."
        context["rows_template"] = "studio/briefs/teacher_rows.html"
        context["nothing"] = _nothing_to_teach(shown, any_course=bool(context["courses"]))
    else:
        context["lead"] = "What your class makes. Choose one to begin or to go on."
        context["rows_template"] = "studio/briefs/student_rows.html"
        context["nothing"] = _nothing_to_make(shown)
        own = projects_for(request.user).filter(brief__in=[b.pk for b in page])
        by_brief = {project.brief_id: project for project in own}
        context["rows"] = [_own_row(brief, by_brief.get(brief.pk)) for brief in page]
    return render(request, "studio/briefs/list.html", context)


def _nothing_to_teach(shown: str, *, any_course: bool) -> dict[str, str]:
    """What a teacher without such a brief is told."""
    if shown == "closed":
        text = "A brief that is done can be closed on its page; what is at the bench goes on."
        return {"title": "No closed brief", "text": text}
    if any_course:
        text = (
            "A brief tells the class what to make, from which metal and within which limits. "
            "Write one for a course above."
        )
        return {"title": "No brief yet", "text": text}
    return {
        "title": "No brief yet",
        "text": "A brief is written for a running course. Begin with the course.",
        "url": reverse("course_list"),
        "label": "To the courses",
    }


def _nothing_to_make(shown: str) -> dict[str, str]:
    """What a student without such a brief is told."""
    if shown == "closed":
        text = "Briefs that your teacher has closed are kept here."
        return {"title": "No closed brief", "text": text}
    text = (
        "Your teacher has not written a brief for your course. It will stand here when it is ready."
    )
    return {"title": "No brief yet", "text": text}


def _sections(shown: str, course: Course | None) -> list[dict[str, Any]]:
    closed = query(course, show="closed")
    return [
        {"label": "Open", "url": f"?{query(course)}", "current": shown == "open"},
        {"label": "Closed", "url": f"?{closed}", "current": shown == "closed"},
    ]


def _own_row(brief: Brief, project: Project | None) -> dict[str, Any]:
    return {
        "brief": brief,
        "project": project,
        "url": reverse("project", args=[project.pk])
        if project
        else reverse("brief", args=[brief.pk]),
        "stage": stage_words(project.stage if project else "not_started"),
    }


@requires(Action.SEE_BRIEF)
def brief_page(request: Visit, pk: int) -> HttpResponse:
    brief = brief_for(request.user, pk)
    context: dict[str, Any] = {
        "brief": brief,
        "metals": list(brief.metals.all()),
        "is_open": brief.closed_at is None and brief.course.closed_at is None,
        "crumbs": [
            {"label": "Briefs", "url": reverse("briefs")},
            {"label": brief.title},
        ],
    }
    if request.user.is_teacher:
        context |= class_table(request, brief)
        context["advice"] = [_advice(metal, brief) for metal in context["metals"]]
        context["brief_key"] = str(brief.pk)
        one = context["waiting"] == 1
        context["waiting_title"] = (
            "1 pattern waits for your look"
            if one
            else f"{context['waiting']} patterns wait for your look"
        )
        context["waiting_label"] = "Look at it" if one else "Look at them"
        context["signs"] = _signed_by_teacher(brief)
        rules = rules_for(request.user.school, brief.course)
        context["room"] = room_words(rules.room(brief.hand), request.user.school.units)
        return render(request, "studio/briefs/teacher.html", context)
    project = projects_for(request.user).filter(brief=brief).first()
    context["project"] = project
    context["stage"] = stage_words(project.stage) if project else None
    context["taught"] = rules_to_teach(request, brief)
    return render(request, "studio/briefs/student.html", context)


def _advice(metal: Any, brief: Brief) -> dict[str, Any]:
    """How the brief's blade suits a metal; the table advises, nothing is refused."""
    try:
        chosen = metals.rate_blade(metals.blade(brief.blade), metal.thickness_mm)
    except metals.UnknownMetalError:
        return {"metal": metal, "reason": "", "kind": "info"}
    kinds = {"good": "done", "usable with care": "caution"}
    first = metals.first_choice_blade(metal.thickness_mm)
    return {
        "metal": metal,
        "reason": chosen.reason,
        "kind": kinds.get(str(chosen.rating), "stop"),
        "word": str(chosen.rating),
        "first": "" if first.blade.size == brief.blade else first.blade.size,
    }


def _signed_by_teacher(brief: Brief) -> list[str]:
    """Titles of the steps a teacher signs too, in the order of the bench."""
    return [TEXTS[kind].title for kind in BenchStepKind if kind in brief.teacher_signs]


@requires(Action.MANAGE_BRIEF)
def brief_new(request: Visit, course_pk: int) -> HttpResponse:
    """Write a brief for a course, from an empty page or from an earlier brief."""
    course = course_for(request.user, course_pk)
    earlier = briefs_for(request.user).order_by("-created_at")
    chooser = EarlierBriefForm(request.GET or None, briefs=earlier)
    initial: dict[str, Any] = {}
    source: Brief | None = None
    if request.method == "GET" and chooser.is_bound and chooser.is_valid():
        source = chooser.cleaned_data["start_from"]
        initial = copied_from(source) if source else {}
    form = BriefForm(request.POST or None, initial=initial, course=course, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            brief = steps.write_brief(form.unsaved(), form.brief_metals, acting=request.user)
            return done(request, "The brief stands. Your class can start.", "brief", pk=brief.pk)
    context = _form_context(course, form) | {
        "chooser": chooser if earlier.exists() else None,
        "source": source,
        "source_text": f"From “{source}”. The due date is yours to set." if source else "",
        "title": "New brief",
        "button": "Give it to the class",
    }
    return render(request, "studio/briefs/form.html", context)


@requires(Action.MANAGE_BRIEF)
def brief_edit(request: Visit, pk: int) -> HttpResponse:
    brief = brief_for(request.user, pk)
    name = brief.title  # the form writes into the brief, even what it then refuses
    form = BriefForm(request.POST or None, instance=brief, course=brief.course, acting=request.user)
    if request.method == "POST" and form.is_valid():
        again = steps.change_brief(form.unsaved(), form.brief_metals, acting=request.user)
        said = "The brief is changed."
        if again:
            patterns = "1 open pattern was" if again == 1 else f"{again} open patterns were"
            said += f" {patterns} checked again; approved ones stay approved."
        messages.success(request, said)
        return redirect("brief", pk=brief.pk)
    context = _form_context(brief.course, form) | {
        "brief": brief,
        "title": "Change the brief",
        "name": name,
        "button": "Save the brief",
    }
    return render(request, "studio/briefs/form.html", context)


def _form_context(course: Course, form: BriefForm) -> dict[str, Any]:
    listed = list(form.metals_field.queryset or [])
    return {
        "course": course,
        "form": form,
        "metals": listed,
        "hands": pictures_of_hands(form.rules, form.rules.kerf_mm(form.rules.blade)),
        "advice": [
            {"metal": metal, "first": metals.first_choice_blade(metal.thickness_mm)}
            for metal in listed
        ],
    }


@requires(Action.MANAGE_BRIEF)
@require_POST
def brief_close(request: Visit, pk: int) -> HttpResponse:
    brief = brief_for(request.user, pk)
    steps.close_brief(brief, acting=request.user)
    messages.success(request, "The brief takes no more patterns. Work at the bench goes on.")
    return redirect("brief", pk=pk)


@requires(Action.MANAGE_BRIEF)
@require_POST
def brief_open(request: Visit, pk: int) -> HttpResponse:
    brief = brief_for(request.user, pk)
    steps.open_brief(brief, acting=request.user)
    messages.success(request, "The brief takes patterns again.")
    return redirect("brief", pk=pk)
