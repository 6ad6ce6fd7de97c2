"""The page on which somebody waits for a file to be read or a PDF to be made."""

from __future__ import annotations

import hashlib
import json

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import get_language, gettext
from django.views.decorators.http import require_GET, require_POST

from classroom.papers.printing import pdf_response
from classroom.papers.requests import AskedPaper
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.models import Errand
from studio.queries.errands import errand_for, errands_before, print_alike
from studio.running.errands import lease
from studio.running.errands.reaping import reap
from studio.running.errands.starting import NewErrand
from studio.running.health import nobody_works
from studio.views.prints.printer_choice import COOKIE

from .landing import begun, seen, to_the_waiting_page


@requires(Action.SEE_FIRST_PAGE)
@require_GET
@shown_in_chosen_language
def errand_page(request: Visit, token: str) -> HttpResponse:
    """How many are before it; goes on by itself when it is done. Its owner's alone."""
    errand = errand_for(request.user, token)
    if reap(only=errand.pk):
        errand.refresh_from_db()
    asks_again = bool(request.htmx)  # type: ignore[attr-defined]
    where = _where_it_goes_on(errand)
    if where and not asks_again:
        return redirect(where)
    before = errands_before(errand) if errand.is_queued else 0
    nobody = errand.is_queued and nobody_works()
    now = f"{errand.state}-{before}{'-nobody' if nobody else ''}"
    if asks_again and request.GET.get("shown") == now:
        return HttpResponse(status=204)  # nothing new, so nothing is read out again
    if not errand.is_open and not where:
        seen(errand)
    context = {
        "errand": errand,
        "doing": _doing(errand),
        "heading": _heading(errand, nobody=nobody),
        "before": before,
        "now": now,
        "where": where,
        "nobody": nobody,
    }
    part = "studio/errands/_state.html" if asks_again else "studio/errands/page.html"
    answer = render(request, part, context)
    answer["Cache-Control"] = "private, no-store"
    return answer


def _doing(errand: Errand) -> str:
    return (
        gettext("Your paper is being made")
        if errand.is_print
        else gettext("Your file is being read")
    )


def _heading(errand: Errand, *, nobody: bool) -> str:
    """What is going on, or why nothing is."""
    if errand.trouble:
        return gettext("This could not be done")
    if not nobody:
        return _doing(errand)
    if errand.is_print:
        return gettext("Your paper waits to be made")
    return gettext("Your file waits to be read")


def _where_it_goes_on(errand: Errand) -> str:
    """The address of what came of it; "" while it is open, or where only a word is left."""
    if errand.is_open:
        return ""
    if errand.state == Errand.State.OFF:
        return errand.back
    if errand.is_print:
        return "" if errand.trouble else reverse("errand_paper", args=[errand.token])
    return f"{errand.back}?errand={errand.token}"


@requires(Action.SEE_FIRST_PAGE)
@require_POST
@shown_in_chosen_language
def errand_call_off(request: Visit, token: str) -> HttpResponse:
    errand = errand_for(request.user, token)
    if lease.call_off(errand):
        messages.info(request, gettext("Called off. Nothing was changed."))
        return redirect(errand.back)
    return to_the_waiting_page(errand)  # it was quicker


@requires(Action.SEE_FIRST_PAGE)
@require_GET
@shown_in_chosen_language
def errand_paper(request: Visit, token: str) -> HttpResponse:
    """The PDF, for some hours, as often as it is wanted."""
    errand = errand_for(request.user, token)
    if errand.is_open or not errand.is_print:
        return to_the_waiting_page(errand)
    try:
        content = errand.result_content()
    except FileNotFoundError:
        messages.warning(request, gettext("This paper is no longer kept. Ask for it again."))
        return redirect(errand.back)
    return pdf_response(content, seen(errand).title)


def queued_paper(request: Visit, name: str) -> HttpResponse:
    """The PDF if it is there within a moment, else the page that waits for it."""
    asked = AskedPaper.of(request, get_language() or "en", (COOKIE,)).to_json()
    about = hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:40]
    errand = print_alike(request.user, about)
    if errand is None:
        wanted = NewErrand(Errand.Kind.PRINT, name, _print_view(request), about, {"paper": asked})
        errand = begun(request, wanted)
    if errand.is_open:
        return to_the_waiting_page(errand)
    if errand.trouble:
        raise Refused(seen(errand).trouble)
    return pdf_response(errand.result_content(), seen(errand).title)


def _print_view(request: HttpRequest) -> str:
    query = request.GET.copy()
    query.pop("as", None)
    return f"{request.path}?{query.urlencode()}" if query else request.path
