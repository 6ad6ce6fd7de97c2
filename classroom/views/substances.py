"""Substances of the school, for everybody to read and teachers to keep up."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.utils.text import slugify
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.acting import done, said_on
from classroom.files import waiting_files
from classroom.forms.substances import SubstanceForm
from classroom.models import Substance
from classroom.permissions import Action, Visit, requires
from classroom.queries import substance_for, substances_for
from classroom.safety.data_sheets import sheet_bytes
from classroom.safety.substances import save_substance, set_aside, shown
from classroom.safety.texts import DEFERRAL
from classroom.wording.chosen_language import chosen_language, language_links


@requires(Action.SEE_SAFETY)
@require_safe
def substances(request: Visit) -> HttpResponse:
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        return render(
            request,
            "classroom/topics/substances.html",
            {
                "rows": shown(substances_for(request.user).filter(retired_at=None), language),
                "retired": substances_for(request.user).filter(retired_at__isnull=False),
                "deferral": gettext(DEFERRAL),
                "lang": language,
                "sections": language_links(request, language),
                "crumbs": _crumbs(gettext("Substances")),
            },
        )


@requires(Action.SEE_SAFETY)
@require_safe
def substance_sheet(request: Visit, pk: int) -> HttpResponse:
    """The data sheet as a file to keep; never shown inside a page."""
    one = substance_for(request.user, pk)
    if not one.sheet_sha:
        raise Http404
    try:
        content = sheet_bytes(one)
    except FileNotFoundError as error:
        raise Http404("The file is no longer in the storage.") from error
    response = HttpResponse(content, content_type="application/pdf")
    name = slugify(f"{one.title} safety data sheet") or "safety-data-sheet"
    response["Content-Disposition"] = f'attachment; filename="{name}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def substance_new(request: Visit) -> HttpResponse:
    return _edit(request, None)


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def substance_edit(request: Visit, pk: int) -> HttpResponse:
    return _edit(request, substance_for(request.user, pk))


@requires(Action.MANAGE_SAFETY)
@require_POST
def substance_set_aside(request: Visit, pk: int) -> HttpResponse:
    one = substance_for(request.user, pk)
    aside = request.POST.get("aside") != "no"
    set_aside(one, aside, acting=request.user)
    messages.success(request, f"“{one}” is {'out of use' if aside else 'in use again'}.")
    return redirect("substances")


def _edit(request: Visit, one: Substance | None) -> HttpResponse:
    school = request.user.school
    form = SubstanceForm(
        request.POST or None,
        request.FILES or None,
        school=school,
        substance=one,
        kept=waiting_files.waiting_file(request.user, school, request.POST.get("kept", "")),
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form, "title"):
            said = form.cleaned_data
            made = save_substance(
                one,
                form.stored(),
                topics=said["topics"],
                sheet=said["sheet"],
                seen_version=said["version"] or 0,
                acting=request.user,
            )
            if form.kept:
                waiting_files.let_go(form.kept)
            return done(request, f"“{made}” is saved.", "substances")
    if form.is_bound and form.brought:  # so that nobody has to choose it again
        name, data = form.brought
        form.kept = waiting_files.set_aside(request.user, school, data, file_name=name)
    title = str(one) if one else "New substance"
    return render(
        request,
        "classroom/topics/substance_edit.html",
        {"form": form, "one": one, "title": title, "crumbs": _crumbs(title)},
    )


def _crumbs(here: str) -> list[dict[str, Any]]:
    crumbs = [{"label": "Safety", "url": reverse("topics")}]
    if here not in ("Substances", gettext("Substances")):
        crumbs.append({"label": "Substances", "url": reverse("substances")})
    return [*crumbs, {"label": here}]
