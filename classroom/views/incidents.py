"""Incidents and near misses: a list, a page for each, a correction, permits asked for again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from classroom.acting import done, said_on
from classroom.forms.incidents import CorrectionForm, IncidentForm
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import incident_for, incidents_for
from classroom.safety.incidents import correct, permits_concerned, suspend, versions, write_down
from classroom.wording.chosen_language import chosen_language, language_links

INCIDENTS_PER_PAGE = 25


@requires(Action.KEEP_INCIDENTS)
@require_safe
def incidents(request: Visit) -> HttpResponse:
    rows = incidents_for(request.user).filter(corrected_by=None)
    page = Paginator(rows, INCIDENTS_PER_PAGE).get_page(request.GET.get("page"))
    crumbs = [{"label": "Safety", "url": reverse("topics")}, {"label": "Incidents"}]
    return render(request, "classroom/safety/incidents.html", {"page": page, "crumbs": crumbs})


@requires(Action.KEEP_INCIDENTS)
@require_safe
def incident(request: Visit, pk: int) -> HttpResponse:
    """The latest writing of the incident `pk`, with the earlier ones below."""
    one = incident_for(request.user, pk)
    rows = versions(one)
    latest = rows[-1]
    return render(
        request,
        "classroom/safety/incident.html",
        {
            "incident": latest,
            "earlier": rows[:-1],
            "permits": permits_concerned(latest),
            "crumbs": _crumbs(str(latest)),
        },
    )


@requires(Action.KEEP_INCIDENTS)
@require_http_methods(["GET", "POST"])
def incident_new(request: Visit) -> HttpResponse:
    form = IncidentForm(request.POST or None, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form, "happened_at"):
            made = write_down(form.stored(), seats=form.cleaned_data["seats"], acting=request.user)
            return done(request, f"{made} is written down.", "incident", made.pk)
    return _form(request, form, "Write down what happened", "Keep it", reverse("incidents"))


@requires(Action.KEEP_INCIDENTS)
@require_http_methods(["GET", "POST"])
def incident_correct(request: Visit, pk: int) -> HttpResponse:
    one = incident_for(request.user, pk)
    form = CorrectionForm(
        request.POST or None, acting=request.user, incident=one, initial=IncidentForm.of(one)
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            said = form.cleaned_data
            made = correct(
                one,
                form.stored(),
                seats=said["seats"],
                reason=said["reason"],
                acting=request.user,
            )
            return done(
                request, f"{made} is corrected; the first writing stays below.", "incident", made.pk
            )
    back = reverse("incident", args=[pk])
    return _form(request, form, f"Correct {str(one).lower()}", "Keep the correction", back)


@requires(Action.KEEP_INCIDENTS)
@require_POST
def incident_suspend(request: Visit, pk: int) -> HttpResponse:
    """Withdraw the ticked permits because of the incident."""
    one = versions(incident_for(request.user, pk))[-1]
    ticked = set(request.POST.getlist("permits")[:500])
    chosen = [permit for permit in permits_concerned(one) if str(permit.pk) in ticked]
    count = suspend(one, chosen, acting=request.user)
    what = "1 permit is" if count == 1 else f"{count} permits are"
    messages.success(request, f"{what} withdrawn; the reason names {str(one).lower()}.")
    return redirect("incident", one.pk)


@requires(Action.KEEP_INCIDENTS)
@require_GET
def incident_print(request: Visit, pk: int) -> HttpResponse:
    one = incident_for(request.user, pk)
    rows = versions(one)
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        return printed(
            request,
            "classroom/prints/incident.html",
            lambda: {
                "incident": rows[-1],
                "earlier": rows[:-1],
                "lang": language,
                "languages": language_links(request, language),
                "back_url": reverse("incident", args=[pk]),
            },
            name=f"incident-{one.number}-{language}",
        )


def _crumbs(here: str) -> list[dict[str, Any]]:
    return [
        {"label": "Safety", "url": reverse("topics")},
        {"label": "Incidents", "url": reverse("incidents")},
        {"label": here},
    ]


def _form(
    request: Visit, form: IncidentForm, title: str, button: str, back_url: str
) -> HttpResponse:
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": title,
            "lead": "Only teachers read this. What is kept is never changed; a correction is "
            "written beside it. First help and tell people, as the school's plan says.",
            "button": button,
            "back_url": back_url,
            "crumbs": _crumbs(title),
        },
    )
