"""The school's own words for the bench steps, in versions, and the depth of its saw frames."""

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

from classroom.languages import in_this_language, language_links, shown_in_chosen_language
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.core.bench_texts import TEXTS, StepKind
from studio.forms.step_words import FrameDepthForm, StepWordsForm
from studio.queries import step_wordings_for
from studio.steps import step_words as words_step

from .step_art import art_of

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
    form = FrameDepthForm(request.POST, school=request.user.school)
    if not form.is_valid():
        return _page(request, form)
    words_step.set_frame_depth(
        request.user.school,
        form.cleaned_data["depth"].quantize(Decimal("0.1")),
        acting=request.user,
    )
    messages.success(request, _("Cut plans now say which lines lie deeper than that."))
    return _to_list(request)


@requires(Action.MANAGE_SAFETY)
@shown_in_chosen_language
@require_http_methods(["GET", "POST"])
def step_words_edit(request: Visit, kind: str) -> HttpResponse:
    step = _kind(kind)
    school = request.user.school
    now = words_step.words_now(school, step)
    form = StepWordsForm(request.POST or None, initial=StepWordsForm.of(now))
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            new = words_step.reword(
                school,
                step,
                do=said["do"],
                right_when=said["right_when"],
                mistakes=said["mistakes"],
                seen=said["seen"],
                acting=request.user,
            )
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            if new.version == now.version:
                messages.info(request, _("Nothing was changed."))
            else:
                messages.success(request, _(SAYS_NOW) % _names(step, new.version))
            return _to_list(request)
    context = {
        "kind": step,
        "title": _(TEXTS[step].title),
        "words": now,
        "lang": get_language(),
        "form": form,
        "art": art_of(step),
        "versions": step_wordings_for(request.user).filter(kind=step)[:VERSIONS_SHOWN],
        "crumbs": [
            {"label": _("Words of the steps"), "url": reverse("step_words")},
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
    house = words_step.house_words(request.user.school, step)
    new = words_step.reword(
        request.user.school,
        step,
        do=house.do,
        right_when=house.right_when,
        mistakes=house.mistakes,
        seen=words_step.words_now(request.user.school, step).version,
        acting=request.user,
    )
    text = _("“%(step)s” says again what it said first, as version %(version)s.")
    messages.success(request, text % _names(step, new.version))
    return _to_list(request)


def _page(request: Visit, form: FrameDepthForm | None) -> HttpResponse:
    school = request.user.school
    own = words_step.school_words(school)
    rows: list[dict[str, Any]] = [
        {"kind": kind, "title": _(TEXTS[kind].title), "own": own.get(kind), "art": art_of(kind)[0]}
        for kind in StepKind
    ]
    depth = words_step.frame_depth_mm(school)
    if form is None:
        form = FrameDepthForm(school=school, initial={"depth": depth})
    language = get_language() or "en"
    context = {
        "rows": rows,
        "form": form,
        "depth_mm": depth,
        "lang": language,
        "sections": language_links(request, language),
    }
    return render(request, "studio/bench/step_words.html", context)


def _names(step: StepKind, version: int) -> dict[str, object]:
    return {"step": _(TEXTS[step].title), "version": version}


def _to_list(request: Visit) -> HttpResponse:
    return redirect(in_this_language(request, reverse("step_words")))


def _kind(name: str) -> StepKind:
    try:
        return StepKind(name)
    except ValueError:
        raise Http404("A step of that kind does not exist.") from None
