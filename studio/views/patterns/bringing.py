"""A student brings a pattern file; nothing that was typed or chosen is lost on the way."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from classroom.models import subject_of
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.core.reading import PatternError, Upload
from studio.core.reading.uploads import require_picture, require_readable
from studio.core.standing import why_pattern_is_fixed
from studio.forms.patterns.bringing import PatternForm, upload_hint
from studio.models import Errand, Pattern, Project
from studio.queries.patterns import pattern_for, project_for
from studio.running.errands.starting import NewErrand
from studio.steps.at_work import why_shut
from studio.steps.patterns.upload_quota import require_room
from studio.steps.patterns.versions import OPEN_STAGES, require_open
from studio.views.errands.brought_file import file_of, keep, kept_by, kept_in, kept_tokens
from studio.views.errands.landing import begun, brought, seen, typed_for, typed_in

from .crumbs import pattern_crumbs
from .findings import tally


@requires(Action.DRAW_PATTERN)
def pattern_upload(request: Visit, project_pk: int) -> HttpResponse:
    """The form for a new version; a worker reads the file, and what came of it is shown here.

    A file whose size is not known leads to one more question.
    """
    project = project_for(request.user, project_pk)
    return brought(
        request,
        Errand.Kind.PATTERN,
        project,
        form=lambda: PatternForm(
            request.POST or None,
            request.FILES or None,
            project=project,
            kept=kept_in(request, project),
        ),
        bring=partial(_bring, request, project),
        page=partial(_page, request, project),
        came_of_it=partial(_came_of_it, request, project),
    )


def _page(request: Visit, project: Project, form: PatternForm) -> HttpResponse:
    context = {
        "project": project,
        "brief": project.brief,
        "form": form,
        "upload_hint": upload_hint(),
        "may_upload": project.stage in OPEN_STAGES,
        "shut": why_shut(project),
        "fixed": why_pattern_is_fixed(project.stage),
        "crumbs": pattern_crumbs(request, project, "Bring a pattern"),
    }
    return render(request, "studio/patterns/upload.html", context)


def _bring(request: Visit, project: Project, form: PatternForm) -> Errand | None:
    """As `handed_on`, with the rules of a project and of a mark in the picture besides."""
    valid = form.is_valid()
    upload = file_of(form, require_readable)
    if upload is None:
        return None
    try:
        require_open(project)
        if valid:
            require_room(project, len(upload.data))
            if form.cleaned_data["mark"]:
                require_picture(upload)
            return begun(request, _wanted(request, project, form, upload))
    except PatternError as error:  # the file is good, only nothing can be marked in it
        form.add_error("mark", str(error))
    except Refused as refusal:
        form.refuse(refusal)
    keep(request, project, form, upload)
    return None


def _wanted(request: Visit, project: Project, form: PatternForm, upload: Upload) -> NewErrand:
    typed = form.cleaned_data
    asked = {
        "project": project.pk,
        "mark": typed["mark"],
        "width_mm": None if typed["width_mm"] is None else float(typed["width_mm"]),
        "dpi": typed["dpi"],
        "frame": typed["frame"],
        "copies": typed["copies"],
        "metal": typed["metal"].pk,
        "typed": typed_for(request, form.names()),
        **kept_tokens(form),
    }
    back = reverse("pattern_upload", args=[project.pk])
    about = subject_of(project)
    return NewErrand(Errand.Kind.PATTERN, upload.name, back, about, asked, upload.data)


def _came_of_it(request: Visit, project: Project, errand: Errand) -> HttpResponse:
    """On to the pattern, or to one more question; else the form again, its file kept."""
    found = seen(errand).outcome
    if "pattern" in found:
        return read_well(request, pattern_for(request.user, found["pattern"]))
    if "waiting" in found:
        return redirect("pattern_waiting", project_pk=project.pk, token=found["waiting"])
    kept = kept_by(request, project, errand)
    form = PatternForm(typed_in(errand), project=project, kept=kept)
    return _page(request, project, form.again(errand.trouble, found.get("on", "")))


def read_well(request: HttpRequest, pattern: Pattern) -> HttpResponse:
    """On to the pattern that was read, with a word about its findings."""
    say: Any = messages.warning if pattern.stops else messages.success
    say(request, _what_was_read(pattern))
    return redirect("pattern", pk=pattern.pk)


def _what_was_read(pattern: Pattern) -> str:
    found = tally(pattern.findings)
    if found["stops"]:
        return "Your file was read. Look at the stops: they must be mended before you hand it in."
    if found["cautions"]:
        return "Your file was read. It has no stop; look at the cautions, then hand it in."
    return "Your file was read, and there is no finding. Look at it once more, then hand it in."
