"""The school's own words for the bench steps, in versions, and what its room parts metal with.

The page's language is the language of the words on it.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import said_on
from classroom.languages import LANGUAGES, known
from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import (
    in_this_language,
    language_links,
    shown_in_chosen_language,
)
from studio.core.bench.texts import TEXTS, BenchStepKind
from studio.forms.bench.tools import RoomToolsForm
from studio.forms.bench.wording import StepWordsForm
from studio.queries.bench import step_wordings_for
from studio.steps.bench import wording as words_step
from studio.steps.bench.tools import set_tools, tools_of

from .step_art import art_of

TENTH = Decimal("0.1")
VERSIONS_SHOWN = 20
SAYS_NOW = gettext_noop(
    "“%(step)s” now says version %(version)s. Metal handed out from now on takes it."
)


@requires(Action.MANAGE_SAFETY)
@shown_in_chosen_language
@require_GET
def step_words(request: Visit) -> HttpResponse:
    return _page(request, None)


@requires(Action.MANAGE_SAFETY)
@shown_in_chosen_language
@require_POST
def frame_depth(request: Visit) -> HttpResponse:
    school = request.user.school
    form = RoomToolsForm(request.POST, school=school, now=tools_of(school))
    if not form.is_valid():
        return _page(request, form)
    longest = form.cleaned_data["shear_cut"]
    set_tools(
        school,
        frame_depth_mm=form.cleaned_data["depth"].quantize(TENTH),
        shear=form.cleaned_data["shear"],
        shear_cut_mm=None if longest is None else longest.quantize(TENTH),
        acting=request.user,
    )
    messages.success(request, _("Kept. Cut plans asked for from now on are made with these tools."))
    return _to_list(request)


@requires(Action.MANAGE_SAFETY)
@shown_in_chosen_language
@require_http_methods(["GET", "POST"])
def step_words_edit(request: Visit, kind: str) -> HttpResponse:
    step = _kind(kind)
    school = request.user.school
    language, own_language = get_language() or "en", known(school.language)
    now = words_step.words_now(school, step, language)
    own = words_step.words_now(school, step, own_language)
    form = StepWordsForm(
        request.POST or None, initial=StepWordsForm.of(now) | {"seen_own": own.version}
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with said_on(form):
            new = words_step.reword(
                school,
                step,
                do=said["do"],
                right_when=said["right_when"],
                mistakes=said["mistakes"],
                seen=said["seen"],
                acting=request.user,
                language=language,
                seen_own=said["seen_own"],
            )
            if new.version == now.version:
                messages.info(request, _("Nothing was changed."))
            else:
                messages.success(request, _(SAYS_NOW) % _names(step, new.version))
            return _to_list(request)
    context = {
        "kind": step,
        "title": _(TEXTS[step].title),
        "words": now,
        "lang": language,
        "sections": language_links(request, language),
        "own": own if language != own_language else None,
        "own_language": own_language,
        "own_language_name": LANGUAGES[own_language],
        "is_stale": step in words_step.stale_kinds(school, language),
        "is_missing": step in words_step.missing_kinds(school, language),
        "form": form,
        "art": art_of(step),
        "versions": step_wordings_for(request.user).filter(kind=step, language=language)[
            :VERSIONS_SHOWN
        ],
        "crumbs": [
            {
                "label": _("Words of the steps"),
                "url": in_this_language(request, reverse("step_words")),
            },
            {"label": _(TEXTS[step].title), "url": ""},
        ],
    }
    return render(request, "studio/bench/step_words_edit.html", context)


@requires(Action.MANAGE_SAFETY)
@shown_in_chosen_language
@require_POST
def step_words_house(request: Visit, kind: str) -> HttpResponse:
    """Take the words that this app came with again, as a new version."""
    step = _kind(kind)
    language = get_language() or "en"
    house = words_step.house_words(step, language)
    new = words_step.reword(
        request.user.school,
        step,
        do=house.do,
        right_when=house.right_when,
        mistakes=house.mistakes,
        seen=words_step.words_now(request.user.school, step, language).version,
        acting=request.user,
        language=language,
    )
    text = _("“%(step)s” says again what it said first, as version %(version)s.")
    messages.success(request, text % _names(step, new.version))
    return _to_list(request)


def _page(request: Visit, form: RoomToolsForm | None) -> HttpResponse:
    school = request.user.school
    language = get_language() or "en"
    stale = words_step.stale_kinds(school, language)
    missing = words_step.missing_kinds(school, language)
    rows: list[dict[str, Any]] = [
        {
            "kind": kind,
            "title": _(TEXTS[kind].title),
            "version": words_step.words_now(school, kind, language).version,
            "is_stale": kind in stale,
            "is_missing": kind in missing,
            "art": art_of(kind)[0],
        }
        for kind in BenchStepKind
    ]
    if form is None:
        form = RoomToolsForm(school=school, now=tools_of(school))
    context = {
        "own_language_name": LANGUAGES[known(school.language)],
        "rows": rows,
        "form": form,
        "lang": language,
        "sections": language_links(request, language),
    }
    return render(request, "studio/bench/step_words.html", context)


def _names(step: BenchStepKind, version: int) -> dict[str, object]:
    return {"step": _(TEXTS[step].title), "version": version}


def _to_list(request: Visit) -> HttpResponse:
    return redirect(in_this_language(request, reverse("step_words")))


def _kind(name: str) -> BenchStepKind:
    try:
        return BenchStepKind(name)
    except ValueError:
        raise Http404("A step of that kind does not exist.") from None
