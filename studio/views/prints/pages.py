"""Prints: a view in the browser and a PDF of the same template. Who may see what, is asked here."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils import translation
from django.utils.translation import get_language
from django.views.decorators.http import require_GET

from classroom.models import User
from classroom.papers.addresses import full_address
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.wording.chosen_language import (
    chosen_language,
    language_links,
    shown_in_chosen_language,
)
from studio.models import CutPlan
from studio.prints.bench import bag_labels, checklists
from studio.prints.files import pattern_sheet_name
from studio.prints.patterns import pattern_sheet
from studio.prints.plans import cut_plan, placement_sheet
from studio.queries.plans import plan_for
from studio.queries.projects import pattern_for, project_for, projects_for

from .printer_choice import correction_for, remembered


@requires(Action.PRINT)
@require_GET
@shown_in_chosen_language
def pattern_sheet_print(request: Visit, pattern_pk: int) -> HttpResponse:
    pattern = pattern_for(request.user, pattern_pk)
    if not pattern.drawing.pieces:
        raise Refused("Nothing to print: no piece was found in this pattern.")
    school = request.user.school
    correction = correction_for(request)

    def context() -> dict[str, Any]:
        sheet = pattern_sheet.pattern_sheet_context(
            pattern, school=school, printer=correction["printer"]
        )
        return sheet | correction | _languages(request, reverse("pattern", args=[pattern.pk]))

    answer = printed(request, pattern_sheet.TEMPLATE, context, name=pattern_sheet_name(pattern))
    return remembered(request, answer)


@requires(Action.PRINT)
@require_GET
@shown_in_chosen_language
def placement_sheet_print(request: Visit, plan_pk: int) -> HttpResponse:
    plan = _placed(request, plan_pk)
    every = request.GET.get("tiles") == "all"
    correction = correction_for(request)

    def context() -> dict[str, Any]:
        sheet = placement_sheet.placement_sheet_context(
            plan,
            school=request.user.school,
            own=_own(request.user, plan),
            printer=correction["printer"],
            every_tile=every,
        )
        sheet |= correction | _languages(request, reverse("plan", args=[plan.pk]))
        if every:
            sheet["keep_query"] = [("tiles", "all")]
        elif sheet["left_out"]:
            query = request.GET.copy()
            query["tiles"] = "all"
            sheet["every_url"] = f"{request.path}?{query.urlencode()}"
        return sheet

    answer = printed(request, placement_sheet.TEMPLATE, context, name=f"placement-sheet-{plan.pk}")
    return remembered(request, answer)


@requires(Action.PRINT)
@require_GET
@shown_in_chosen_language
def cut_plan_print(request: Visit, plan_pk: int) -> HttpResponse:
    plan = _placed(request, plan_pk)

    def context() -> dict[str, Any]:
        sheet = cut_plan.cut_plan_context(
            plan, school=request.user.school, own=_own(request.user, plan)
        )
        return sheet | _languages(request, reverse("plan", args=[plan.pk]))

    return printed(request, cut_plan.TEMPLATE, context, name=f"cut-plan-{plan.pk}")


@requires(Action.PRINT)
@require_GET
def preparation_checklist(request: Visit, project_pk: int) -> HttpResponse:
    project = project_for(request.user, project_pk)
    return _in_languages(
        request,
        checklists.PREPARATION,
        lambda: checklists.preparation_context(project),
        back_url=reverse("project", args=[project.pk]),
        name=f"preparation-{project.student}",
    )


@requires(Action.SEE_COURSE)
@require_GET
def class_preparation_checklist(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    return _in_languages(
        request,
        checklists.CLASS_PREPARATION,
        lambda: checklists.class_preparation_context(course),
        back_url=reverse("course", args=[course.pk]),
        name=f"preparation-{course}",
    )


@requires(Action.PRINT)
@require_GET
def safety_checklist(request: Visit, project_pk: int) -> HttpResponse:
    project = project_for(request.user, project_pk)
    return _in_languages(
        request,
        checklists.SAFETY,
        lambda: checklists.safety_context(project),
        back_url=reverse("project", args=[project.pk]),
        name=f"safety-{project.student}",
    )


@requires(Action.SEE_COURSE)
@require_GET
def class_safety_checklist(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    return _in_languages(
        request,
        checklists.CLASS_SAFETY,
        lambda: checklists.class_safety_context(course),
        back_url=reverse("course", args=[course.pk]),
        name=f"safety-{course}",
    )


def _languages(request: Visit, back_url: str) -> dict[str, Any]:
    """The language that is on, the way to the others and the way back, for a print's page."""
    language = get_language() or "en"
    return {
        "lang": language,
        "languages": language_links(request, language),
        "back_url": back_url,
    }


def _in_languages(
    request: Visit,
    template: str,
    context: Callable[[], dict[str, Any]],
    *,
    back_url: str,
    name: str,
    short: bool = False,
) -> HttpResponse:
    """The print in the school's language, or the one that is asked for."""
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        more = _languages(request, back_url)
        return printed(
            request, template, lambda: context() | more, name=f"{name}-{language}", short=short
        )


@requires(Action.PRINT)
@require_GET
def bag_label(request: Visit, project_pk: int) -> HttpResponse:
    project = project_for(request.user, project_pk)
    return _in_languages(
        request,
        bag_labels.TEMPLATE,
        lambda: {
            "course": project.brief.course,
            "labels": [bag_labels.bag_label(project, partial(full_address, request))],
        },
        back_url=reverse("project", args=[project.pk]),
        name=f"bag-{project.student}",
        short=True,
    )


@requires(Action.SEE_COURSE)
@require_GET
def class_bag_labels(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    return _in_languages(
        request,
        bag_labels.TEMPLATE,
        lambda: {
            "course": course,
            "labels": bag_labels.bag_labels(course, partial(full_address, request)),
        },
        back_url=reverse("class_bench", args=[course.pk]),
        name=f"bags-{course}",
    )


def _placed(request: Visit, plan_pk: int) -> CutPlan:
    plan = plan_for(request.user, plan_pk)
    if plan.answer is None:
        raise Refused("Nothing to print yet: this plan has not been placed.")
    return plan


def _own(user: User, plan: CutPlan) -> frozenset[int] | None:
    """A student's own projects on the plan; None for a teacher, who may read all names."""
    if user.is_teacher:
        return None
    own = projects_for(user).filter(plan_shares__plan=plan)
    return frozenset(own.values_list("pk", flat=True))
