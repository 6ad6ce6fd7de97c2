"""Prints: a view in the browser and a PDF of the same template, all of them in one table.

Who may see what, is asked by `may` and by `thing`: fetching is the access check.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, TypeVar

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_GET

from classroom.models import Course, User
from classroom.papers.addresses import full_address
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.wording.chosen_language import language_links, shown_in_chosen_language
from studio.models import CutPlan, Pattern, Project
from studio.prints.bench import bag_labels, checklists
from studio.prints.files import pattern_sheet_name
from studio.prints.patterns import pattern_sheet
from studio.prints.plans import cut_plan, parting_sheet, placement_sheet
from studio.queries.additions import shares_lying
from studio.queries.patterns import pattern_for, project_for, projects_for
from studio.queries.plans import plan_for

from .printer_choice import correction_for, remembered

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Print(Generic[Thing]):
    """One row: what is printed (`thing`, of the address's number) and how.

    `name` is that of the address and of its view, `back` that of the page which the thing has
    besides, under the same number.
    `context` draws the paper up. `file_name` goes without its ending; with `in_words` the
    language is put to it, as there are as many papers as languages. `true_size` papers are
    stretched for the printer that is chosen, `short` ones are made at once (`printed`).
    """

    name: str
    address: str
    may: Action
    thing: Callable[[User, int], Thing]
    template: str
    context: Callable[[Visit, Thing], dict[str, Any]]
    back: str
    file_name: Callable[[Thing], str]
    in_words: bool = True
    true_size: bool = False
    short: bool = False


def view_of(one: Print[Any]) -> Callable[..., HttpResponse]:
    """The view of a row, under its name and marked with who may."""

    def shown(request: Visit, pk: int) -> HttpResponse:
        return _served(request, one, pk)

    shown.__name__ = shown.__qualname__ = one.name
    view: Callable[..., HttpResponse] = requires(one.may)(
        require_GET(shown_in_chosen_language(shown))
    )
    return view


def _served(request: Visit, one: Print[Thing], pk: int) -> HttpResponse:
    """The print in the school's language, or the one that is asked for."""
    thing = one.thing(request.user, pk)
    language = get_language() or "en"

    def context() -> dict[str, Any]:
        """With the language that is on, the way to the others and the way back."""
        return one.context(request, thing) | {
            "lang": language,
            "languages": language_links(request, language),
            "back_url": reverse(one.back, args=[pk]),
        }

    name = one.file_name(thing)
    answer = printed(
        request,
        one.template,
        context,
        name=f"{name}-{language}" if one.in_words else name,
        short=one.short,
    )
    return remembered(request, answer) if one.true_size else answer


def _drawn(user: User, pk: int) -> Pattern:
    pattern = pattern_for(user, pk)
    if not pattern.drawing.pieces:
        raise Refused("Nothing to print: no piece was found in this pattern.")
    return pattern


def _placed(user: User, pk: int) -> CutPlan:
    plan = plan_for(user, pk)
    if plan.answer is None:
        raise Refused("Nothing to print yet: this plan has not been placed.")
    return plan


def _own(user: User, plan: CutPlan) -> frozenset[int] | None:
    """A student's own projects on the plan; None for a teacher, who may read all names."""
    if user.is_teacher:
        return None
    own = projects_for(user).filter(pk__in=shares_lying(plan).values("project"))
    return frozenset(own.values_list("pk", flat=True))


def _pattern_sheet(request: Visit, pattern: Pattern) -> dict[str, Any]:
    correction = correction_for(request)
    sheet = pattern_sheet.pattern_sheet_context(
        pattern, school=request.user.school, printer=correction["printer"]
    )
    return sheet | correction


def _placement_sheet(request: Visit, plan: CutPlan) -> dict[str, Any]:
    every = request.GET.get("tiles") == "all"
    correction = correction_for(request)
    sheet = placement_sheet.placement_sheet_context(
        plan,
        school=request.user.school,
        own=_own(request.user, plan),
        printer=correction["printer"],
        every_tile=every,
    )
    sheet |= correction
    if every:
        sheet["keep_query"] = [("tiles", "all")]
    elif sheet["left_out"]:
        query = request.GET.copy()
        query["tiles"] = "all"
        sheet["every_url"] = f"{request.path}?{query.urlencode()}"
    return sheet


def _cut_plan(request: Visit, plan: CutPlan) -> dict[str, Any]:
    return cut_plan.cut_plan_context(plan, school=request.user.school, own=_own(request.user, plan))


def _to_part(user: User, pk: int) -> CutPlan:
    plan = _placed(user, pk)
    if plan.laid is None or not plan.laid.cuts:
        raise Refused("Nothing to print: no metal of this plan is parted.")
    return plan


def _parting_sheet(request: Visit, plan: CutPlan) -> dict[str, Any]:
    return parting_sheet.parting_sheet_context(
        plan, school=request.user.school, names=request.user.is_teacher
    )


def _bag_label(request: Visit, project: Project) -> dict[str, Any]:
    label = bag_labels.bag_label(project, partial(full_address, request))
    return {"course": project.brief.course, "labels": [label]}


def _bag_labels(request: Visit, course: Course) -> dict[str, Any]:
    return {
        "course": course,
        "labels": bag_labels.bag_labels(course, partial(full_address, request)),
    }


PRINTS: tuple[Print[Any], ...] = (
    Print(
        name="pattern_sheet",
        address="pattern/<int:pk>/",
        may=Action.PRINT,
        thing=_drawn,
        template=pattern_sheet.TEMPLATE,
        context=_pattern_sheet,
        back="pattern",
        file_name=pattern_sheet_name,
        in_words=False,
        true_size=True,
    ),
    Print(
        name="placement_sheet",
        address="placement/<int:pk>/",
        may=Action.PRINT,
        thing=_placed,
        template=placement_sheet.TEMPLATE,
        context=_placement_sheet,
        back="plan",
        file_name=lambda plan: f"placement-sheet-{plan.pk}",
        in_words=False,
        true_size=True,
    ),
    Print(
        name="parting_sheet",
        address="parting/<int:pk>/",
        may=Action.PRINT,
        thing=_to_part,
        template=parting_sheet.TEMPLATE,
        context=_parting_sheet,
        back="plan",
        file_name=lambda plan: f"parting-sheet-{plan.pk}",
    ),
    Print(
        name="cut_plan_print",
        address="plan/<int:pk>/",
        may=Action.PRINT,
        thing=_placed,
        template=cut_plan.TEMPLATE,
        context=_cut_plan,
        back="plan",
        file_name=lambda plan: f"cut-plan-{plan.pk}",
        in_words=False,
    ),
    Print(
        name="preparation_checklist",
        address="preparation/<int:pk>/",
        may=Action.PRINT,
        thing=project_for,
        template=checklists.PREPARATION,
        context=lambda _, project: checklists.preparation_context(project),
        back="project",
        file_name=lambda project: f"preparation-{project.student}",
    ),
    Print(
        name="class_preparation_checklist",
        address="course/<int:pk>/preparation/",
        may=Action.SEE_COURSE,
        thing=course_for,
        template=checklists.CLASS_PREPARATION,
        context=lambda _, course: checklists.class_preparation_context(course),
        back="course",
        file_name=lambda course: f"preparation-{course}",
    ),
    Print(
        name="safety_checklist",
        address="project/<int:pk>/safety/",
        may=Action.PRINT,
        thing=project_for,
        template=checklists.SAFETY,
        context=lambda _, project: checklists.safety_context(project),
        back="project",
        file_name=lambda project: f"safety-{project.student}",
    ),
    Print(
        name="class_safety_checklist",
        address="course/<int:pk>/safety/",
        may=Action.SEE_COURSE,
        thing=course_for,
        template=checklists.CLASS_SAFETY,
        context=lambda _, course: checklists.class_safety_context(course),
        back="course",
        file_name=lambda course: f"safety-{course}",
    ),
    Print(
        name="bag_label",
        address="bag/<int:pk>/",
        may=Action.PRINT,
        thing=project_for,
        template=bag_labels.TEMPLATE,
        context=_bag_label,
        back="project",
        file_name=lambda project: f"bag-{project.student}",
        short=True,
    ),
    Print(
        name="class_bag_labels",
        address="course/<int:pk>/bags/",
        may=Action.SEE_COURSE,
        thing=course_for,
        template=bag_labels.TEMPLATE,
        context=_bag_labels,
        back="class_bench",
        file_name=lambda course: f"bags-{course}",
    ),
)
