"""The teacher's look at patterns: the queue, one at size, several without a stop at once."""

from __future__ import annotations

from collections import defaultdict
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from classroom.acting import said_on
from classroom.permissions import Action, Visit, requires
from classroom.queries import courses_for
from classroom.refusals import Refused
from studio.forms.patterns.answering import AnswerForm, SeveralForm, WaitingFilter
from studio.models import Pattern
from studio.queries.briefs import briefs_for
from studio.queries.patterns import pattern_for, patterns_for
from studio.steps.patterns.answer import Approval, approve_pattern, return_pattern, start_placing
from studio.steps.patterns.mend import mended
from studio.telling.today.stages import PATTERN_WORDS

from .answered_layout import LayoutsToAnswer
from .facts import facts_of
from .findings import numbered, tally
from .picture import mark_spot, picture, thumbnail

ON_A_PAGE = 12
MOST_AT_ONCE = ON_A_PAGE


def waiting_patterns(request: Visit) -> QuerySet[Pattern]:
    """Handed-in patterns of the teacher's courses, longest waiting first."""
    return (
        patterns_for(request.user)
        .filter(state=Pattern.State.HANDED_IN)
        .select_related("project__metal")
        .order_by("handed_in_at", "pk")
    )


@requires(Action.ANSWER_PATTERN)
def patterns_waiting(request: Visit) -> HttpResponse:
    """The queue, with a picture of each and a box to tick for those without a stop."""
    rows = waiting_patterns(request).defer("tracing", "relabels", "changes")
    filters = WaitingFilter(
        request.GET or None,
        courses=courses_for(request.user),
        briefs=briefs_for(request.user),
    )
    keep: dict[str, str] = {}
    if filters.is_bound and filters.is_valid():
        for name, lookup in (("course", "project__brief__course"), ("brief", "project__brief")):
            chosen = filters.cleaned_data[name]
            if chosen is not None:
                rows = rows.filter(**{lookup: chosen})
                keep[name] = str(chosen.pk)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    cards = [
        {
            "pattern": pattern,
            "picture": thumbnail(pattern, large=True),
            "tally": tally(pattern.findings),
            "clean": not pattern.stops,
        }
        for pattern in page
    ]
    context = {
        "page": page,
        "cards": cards,
        "any_clean": any(card["clean"] for card in cards),
        "keep": urlencode(keep),
        "filter_form": filters,
        "several": SeveralForm(),
    }
    return render(request, "studio/patterns/waiting.html", context)


@requires(Action.ANSWER_PATTERN)
@require_POST
def patterns_approve(request: Visit) -> HttpResponse:
    """Approve the ticked patterns, each for itself; those that moved on are named."""
    form = SeveralForm(request.POST)
    if not form.is_valid():
        raise Refused("Say how the patterns are to be placed.")
    ticked = [text for text in request.POST.getlist("pattern") if text.isdecimal()][:MOST_AT_ONCE]
    patterns = list(
        waiting_patterns(request).filter(pk__in=[int(text) for text in ticked if len(text) < 12])
    )
    if not ticked:
        raise Refused("Tick the patterns that you have looked at.")
    placing = form.cleaned_data["placing"]
    approved: list[Pattern] = []
    approvals: list[Approval] = []
    for pattern in patterns:
        try:
            approval = approve_pattern(
                pattern, acting=request.user, place_now=placing == SeveralForm.ALONE
            )
        except Refused:
            continue
        approved.append(pattern)
        approvals.append(approval)
    if placing == SeveralForm.TOGETHER:
        approvals = _place_together(approved, request)
    _say(request, len(approved), len(ticked), approvals)
    return redirect("patterns_waiting")


def _place_together(approved: list[Pattern], request: Visit) -> list[Approval]:
    """One cut plan for each course and metal."""
    groups: dict[tuple[int, int | None], Approval] = defaultdict(Approval)
    for pattern in approved:
        project = pattern.project
        groups[project.brief.course_id, project.metal_id].projects.append(project)
    for approval in groups.values():
        start_placing(approval, acting=request.user)
    return list(groups.values())


def _say(request: Visit, approved: int, ticked: int, approvals: list[Approval]) -> None:
    if approved:
        patterns = "1 pattern is" if approved == 1 else f"{approved} patterns are"
        messages.success(request, f"{patterns} approved.")
    left = ticked - approved
    if left:
        patterns = "1 pattern was" if left == 1 else f"{left} patterns were"
        messages.warning(request, f"{patterns} not approved: taken back meanwhile, or with stops.")
    for reason in dict.fromkeys(each.not_placed for each in approvals if each.not_placed):
        messages.warning(request, f"Placing did not start. {reason}")


@requires(Action.ANSWER_PATTERN)
def pattern_answer(request: Visit, pk: int) -> HttpResponse:
    """One pattern at size with everything the teacher needs to decide."""
    pattern = pattern_for(request.user, pk)
    school = request.user.school
    layouts = LayoutsToAnswer(pattern, request.user, school)
    form = AnswerForm(
        request.POST or None,
        places=layouts.places(),
        layouts=layouts.choices(),
        metals=layouts.metals(),
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            return _decide(request, pattern, form, layouts)
        pattern.refresh_from_db()
    waiting = waiting_patterns(request)
    following = waiting.exclude(pk=pk).values_list("pk", flat=True).first()
    project = pattern.project
    context: dict[str, Any] = {
        "pattern": pattern,
        "project": project,
        "brief": project.brief,
        "words": PATTERN_WORDS[pattern.state],
        "picture": picture(pattern, school=school),
        "findings": numbered(pattern.findings, school),
        "tally": tally(pattern.findings),
        "facts": facts_of(pattern, school),
        "mended": mended(pattern),
        "form": form,
        "is_teacher": True,
        "mark_spot": mark_spot(pattern),
        "waits": pattern.state == Pattern.State.HANDED_IN,
        "may_return": pattern.state in (Pattern.State.HANDED_IN, Pattern.State.APPROVED),
        "following": following,
        "earlier": list(
            project.patterns.exclude(pk=pk)
            .exclude(reviewed_at=None)
            .defer("tracing", "drawing_json", "findings_json")
            .select_related("reviewed_by")
        ),
        "crumbs": [
            {"label": "Patterns waiting", "url": reverse("patterns_waiting")},
            {"label": f"{project.student.display_name}: {project.brief.title}"},
        ],
    }
    context |= layouts.context()
    return render(request, "studio/patterns/review.html", context)


def _decide(
    request: Visit, pattern: Pattern, form: AnswerForm, layouts: LayoutsToAnswer
) -> HttpResponse:
    typed = form.cleaned_data
    student = pattern.project.student.display_name
    if typed["decision"] == AnswerForm.RETURN:
        return_pattern(pattern, acting=request.user, remark=typed["remark"], mark=form.mark)
        messages.success(request, f"Handed back to {student} with your remark.")
    else:
        approval = approve_pattern(
            pattern,
            acting=request.user,
            remark=typed["remark"],
            place_now=typed["place_now"],
            layout=layouts.chosen(typed["layout"]),
        )
        messages.success(request, f"{student}’s pattern is approved.{_placing_words(approval)}")
        if approval.not_placed:
            messages.warning(request, f"Placing did not start. {approval.not_placed}")
    following = waiting_patterns(request).values_list("pk", flat=True).first()
    if following is not None:
        return redirect("pattern_review", pk=following)
    return redirect("patterns_waiting")


def _placing_words(approval: Approval) -> str:
    return " Placing has begun." if approval.plan is not None else ""
