"""A student's pattern: looking at it, naming its lines, its metal, handing it in or back."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, may, requires
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.core.standing import how_to_mend
from studio.forms.patterns.bringing import MetalForm
from studio.models import Pattern
from studio.queries.patterns import pattern_for
from studio.steps.at_work import why_shut
from studio.steps.patterns import hand_in as hand_in_step
from studio.steps.patterns import relabel as relabel_step
from studio.steps.patterns import take_back as take_back_step
from studio.steps.patterns.versions import OPEN_STAGES
from studio.telling.today.stages import PATTERN_WORDS
from studio.views.own_layouts.handing_in import handing_in
from studio.views.trials.panel import panel_of

from .crumbs import pattern_crumbs
from .deeds import May, deeds_of, verdict_on
from .facts import facts_of
from .findings import counted, found_words, numbered, tally
from .lines import LAYER_CHOICES, labels_of_layers, layer_rows, line_rows, read_lines
from .mending import neater
from .picture import mark_spot, picture
from .versions import may_change_versions

LINES_ON_A_PAGE = 60
LINE_FIELD = "line-"
LAYER_FIELD = "layer-"


@requires(Action.SEE_PROJECT)
@require_GET
def pattern_page(request: Visit, pk: int) -> HttpResponse:
    """The pattern as we draw it, its findings, what was recognised, and what can be done."""
    return _page(request, pattern_for(request.user, pk))


def _page(request: Visit, pattern: Pattern, metal_form: MetalForm | None = None) -> HttpResponse:
    project = pattern.project
    school = request.user.school
    mine = request.user.is_student
    current = project.patterns.current().only("pk", "number").first()
    other = current if current is not None and current.pk != pattern.pk else None
    shut = why_shut(project)
    open_work = not shut
    may_change = mine and open_work and pattern.state in relabel_step.OPEN_STATES
    lines, labels = read_lines(pattern)
    rows = line_rows(lines, labels, pattern.relabels, school)
    chosen = next((row for row in rows if row["id"] == request.GET.get("line")), None)
    found = tally(pattern.findings)
    facts = facts_of(pattern, school)
    may_hand_in = may_change and pattern.state == Pattern.State.DRAFT
    may_upload = mine and open_work and project.stage in OPEN_STAGES
    may = May(
        print=facts["has_pieces"],
        correct=may_change,
        use_again=other is not None and may_change_versions(project, student=mine),
        build_on=may_upload and other is None and pattern.recipe is not None,
        upload=may_upload,
        take_back=mine and open_work and pattern.state == Pattern.State.HANDED_IN,
        hand_in=may_hand_in and not found["stops"],
        answer=not mine and pattern.state == Pattern.State.HANDED_IN,
    )
    context: dict[str, Any] = {
        "project": project,
        "brief": project.brief,
        "pattern": pattern,
        "words": PATTERN_WORDS[pattern.state],
        "picture": picture(pattern, school=school, lines=lines, labels=labels),
        "mark_spot": mark_spot(pattern),
        "is_teacher": not mine,
        "handing_in": handing_in(project, pattern, school, student=mine, open_work=open_work)
        if other is None
        else None,
        "findings": numbered(pattern.findings, school),
        "neater": neater(pattern, school, may_change=may_change, asked="neater" in request.GET),
        "tally": found,
        "found_words": found_words(found),
        "deeds": deeds_of(pattern, may),
        "verdict": verdict_on(pattern),
        "how_to_mend": f"{how_to_mend(built=pattern.is_as_built)} If a line was read "
        "wrongly, say below what it is.",
        "facts": facts,
        "mine": mine,
        "trial_panel": panel_of(request, pattern),
        "shut": shut if mine and pattern.state in relabel_step.OPEN_STATES else "",
        "may_change": may_change,
        "may_hand_in": may_hand_in,
        "other": other,
        "lines_page": Paginator(rows, LINES_ON_A_PAGE).get_page(request.GET.get("lines")),
        "chosen": chosen if may_change else None,
        "layers": layer_rows(lines, labels) if may_change else [],
        "layer_choices": LAYER_CHOICES,
        "label_choices": relabel_step.LABEL_CHOICES,
        "metal_form": metal_form
        or MetalForm(project=project, initial={"metal": project.metal, "copies": pattern.copies})
        if may_change
        else None,
        "crumbs": pattern_crumbs(request, project, f"Pattern {pattern.number}"),
    }
    return render(request, "studio/patterns/page.html", context)


@requires(Action.SEE_PROJECT)
@require_GET
def pattern_file(request: Visit, pk: int) -> HttpResponseBase:
    """The original as evidence: only ever to keep, never to be shown by a browser."""
    pattern = pattern_for(request.user, pk)
    try:
        content = pattern.file.open("rb")
    except (FileNotFoundError, ValueError) as error:  # erased on request: no file is named
        raise Http404("The original file is not in the evidence store.") from error
    ending = str(pattern.file.name).rpartition(".")[2]
    stem = slugify(pattern.file_name.rpartition(".")[0]) or f"pattern-{pattern.number}"
    response = FileResponse(
        content,
        as_attachment=True,
        filename=f"{stem}.{ending}",
        content_type="application/octet-stream",
    )
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cache-Control"] = "private, no-store"
    return response


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_relabel(request: Visit, pk: int) -> HttpResponse:
    """Name lines anew (`line-<id>` or `layer-<number>` = label), or undo all names (`undo`)."""
    pattern = pattern_for(request.user, pk)
    if "undo" in request.POST:
        after = relabel_step.as_read(pattern, acting=request.user)
        messages.success(request, "The lines are named as they were read.")
    else:
        labels = {
            name.removeprefix(LINE_FIELD): request.POST[name]
            for name in request.POST
            if name.startswith(LINE_FIELD)
        }
        wanted = {
            name.removeprefix(LAYER_FIELD): request.POST[name]
            for name in request.POST
            if name.startswith(LAYER_FIELD)
        }
        if wanted:
            labels |= labels_of_layers(pattern.traced.lines, wanted)
        after = relabel_step.relabel(pattern, labels, acting=request.user)
        found = tally(after.findings)
        messages.success(request, f"Checked again: {counted(found)}.")
    return redirect(reverse("pattern", args=[after.pk]) + "#picture")


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_metal(request: Visit, pk: int) -> HttpResponse:
    """Another metal or number of pieces for a draft."""
    pattern = pattern_for(request.user, pk)
    form = MetalForm(request.POST, project=pattern.project)
    if form.is_valid():
        with said_on(form):
            metal, copies = form.cleaned_data["metal"], form.cleaned_data["copies"]
            after = relabel_step.change_metal(pattern, metal, copies, acting=request.user)
            return done(request, "Metal and number are changed.", "pattern", pk=after.pk)
    return _page(request, pattern_for(request.user, pk), form)


@requires(Action.DRAW_PATTERN)
@require_POST
@shown_in_chosen_language
def pattern_hand_in(request: Visit, pk: int) -> HttpResponse:
    pattern = pattern_for(request.user, pk)
    without = "without_layout" in request.POST or not may(request.user, Action.HAND_IN_LAYOUT)
    hand_in_step.hand_in(pattern, acting=request.user, without_layout=without)
    messages.success(request, gettext("Handed in. Your teacher looks at it next."))
    return redirect("project", pk=pattern.project_id)


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_take_back(request: Visit, pk: int) -> HttpResponse:
    pattern = pattern_for(request.user, pk)
    take_back_step.take_back(pattern, acting=request.user)
    messages.success(request, "The pattern is a draft again. Hand it in when it is ready.")
    return redirect("pattern", pk=pk)
