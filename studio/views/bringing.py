"""A student brings a pattern file; nothing that was typed or chosen is lost on the way."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.contrib import messages
from django.core.validators import slug_re
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from classroom.models import WaitingFile
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.waiting_files import content_of, let_go, waiting_file
from studio import queries
from studio.core.reading import PatternError, UnitUnknown
from studio.core.reading.sources import MOST_BYTES, PICTURES, kind_of
from studio.forms.pattern import PatternForm, upload_hint
from studio.models import Pattern, Project
from studio.steps.read_in import OPEN_STAGES, read_in
from studio.steps.start_project import why_shut
from studio.steps.wait_for_size import (
    ASKS_FOR_SIZE,
    Typed,
    ask_for_size,
    ask_for_unit,
    keep_for_the_form,
)

from .findings import tally
from .pattern_crumbs import pattern_crumbs


@requires(Action.DRAW_PATTERN)
def pattern_upload(request: Visit, project_pk: int) -> HttpResponse:
    """The form for a new revision; a file whose size is not known leads to one more question."""
    project = queries.project_for(request.user, project_pk)
    kept = _kept(request, project)
    form = PatternForm(request.POST or None, request.FILES or None, project=project, kept=kept)
    if request.method == "POST":
        done = _bring(request, project, form)
        if done is not None:
            return done
    context = {
        "project": project,
        "brief": project.brief,
        "form": form,
        "upload_hint": upload_hint(),
        "may_upload": project.stage in OPEN_STAGES,
        "shut": why_shut(project),
        "crumbs": pattern_crumbs(request, project, "Bring a pattern"),
    }
    return render(request, "studio/patterns/upload.html", context)


def _kept(request: Visit, project: Project) -> WaitingFile | None:
    token = request.POST.get("kept", "")
    return waiting_file(request.user, project, token) if slug_re.fullmatch(token) else None


def _bring(request: Visit, project: Project, form: PatternForm) -> HttpResponse | None:
    """Where it goes on; None when the form is shown again."""
    valid = form.is_valid()
    found = _file_of(form)
    if found is None:
        return None
    data, name = found
    if not valid:
        _keep(request, project, form, data, name)
        return None
    typed = form.cleaned_data
    said = Typed(typed["copies"], typed["metal"])
    try:
        if typed["mark"]:
            waiting = ask_for_size(project, data, name, said, acting=request.user)
            return _asked(project, waiting, form)
        pattern = read_in(
            project,
            BytesIO(data),
            acting=request.user,
            filename=name,
            width_mm=None if typed["width_mm"] is None else float(typed["width_mm"]),
            dpi=typed["dpi"],
            frame=typed["frame"] or None,
            copies=typed["copies"],
            metal=typed["metal"],
        )
    except UnitUnknown as unknown:
        size = unknown.width, unknown.height
        waiting = ask_for_unit(project, data, name, said, size, acting=request.user)
        return _asked(project, waiting, form)
    except PatternError as error:
        if error.code in ASKS_FOR_SIZE and kind_of(data, name) in PICTURES:
            why = str(error)
            waiting = ask_for_size(project, data, name, said, acting=request.user, why=why)
            return _asked(project, waiting, form)
        form.add_error("file", str(error))
    except Refused as refusal:
        form.add_error(None, str(refusal))
    else:
        if form.kept is not None:
            let_go(form.kept)
        return read_well(request, pattern)
    return None


def _file_of(form: PatternForm) -> tuple[bytes, str] | None:
    """The file just chosen, else the one kept from the try before; None when there is none."""
    if "file" in form.errors:
        return None
    chosen = form.cleaned_data.get("file")
    if chosen is not None:
        return chosen.read(MOST_BYTES + 1), chosen.name or ""
    if form.kept is None:
        return None
    try:
        return content_of(form.kept), form.kept.file_name
    except FileNotFoundError:
        form.kept = None
        form.add_error("file", "This file is no longer kept. Choose it again.")
        return None


def _keep(request: Visit, project: Project, form: PatternForm, data: bytes, name: str) -> None:
    if form.cleaned_data.get("file") is None:
        return  # it is kept already
    try:
        form.kept = keep_for_the_form(project, data, name, acting=request.user)
    except Refused as refusal:
        form.add_error(None, str(refusal))


def _asked(project: Project, waiting: WaitingFile, form: PatternForm) -> HttpResponse:
    if form.kept is not None:
        let_go(form.kept)
    return redirect("pattern_waiting", project_pk=project.pk, token=waiting.token)


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
