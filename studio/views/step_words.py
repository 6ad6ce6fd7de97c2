"""The school's own words for the bench steps, in versions, and the depth of its saw frames."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.core.bench_texts import TEXTS, StepKind
from studio.forms.step_words import FrameDepthForm, StepWordsForm
from studio.queries import step_wordings_for
from studio.steps import step_words as words_step

from .step_art import art_of

VERSIONS_SHOWN = 20


@requires(Action.MANAGE_SAFETY)
@require_GET
def step_words(request: Visit) -> HttpResponse:
    return _page(request, None)


@requires(Action.MANAGE_SAFETY)
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
    messages.success(request, "Cut plans now say which lines lie deeper than that.")
    return redirect("step_words")


@requires(Action.MANAGE_SAFETY)
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
                messages.info(request, "Nothing was changed.")
            else:
                text = f"“{TEXTS[step].title}” now says version {new.version}."
                messages.success(request, f"{text} Metal handed out from now on takes it.")
            return redirect("step_words")
    context = {
        "kind": step,
        "title": TEXTS[step].title,
        "words": now,
        "form": form,
        "art": art_of(step),
        "versions": step_wordings_for(request.user).filter(kind=step)[:VERSIONS_SHOWN],
        "crumbs": [
            {"label": "Words of the steps", "url": reverse("step_words")},
            {"label": TEXTS[step].title, "url": ""},
        ],
    }
    return render(request, "studio/bench/step_words_edit.html", context)


@requires(Action.MANAGE_SAFETY)
@require_POST
def step_words_house(request: Visit, kind: str) -> HttpResponse:
    """Take the words that this app came with again, as a new version."""
    step = _kind(kind)
    house = words_step.house_words(step)
    new = words_step.reword(
        request.user.school,
        step,
        do=house.do,
        right_when=house.right_when,
        mistakes=house.mistakes,
        seen=words_step.words_now(request.user.school, step).version,
        acting=request.user,
    )
    messages.success(
        request, f"“{TEXTS[step].title}” says again what it said first, as version {new.version}."
    )
    return redirect("step_words")


def _page(request: Visit, form: FrameDepthForm | None) -> HttpResponse:
    school = request.user.school
    own = words_step.school_words(school)
    rows: list[dict[str, Any]] = [
        {"kind": kind, "title": TEXTS[kind].title, "own": own.get(kind), "art": art_of(kind)[0]}
        for kind in StepKind
    ]
    depth = words_step.frame_depth_mm(school)
    if form is None:
        form = FrameDepthForm(school=school, initial={"depth": depth})
    context = {"rows": rows, "form": form, "depth_mm": depth}
    return render(request, "studio/bench/step_words.html", context)


def _kind(name: str) -> StepKind:
    try:
        return StepKind(name)
    except ValueError:
        raise Http404("A step of that kind does not exist.") from None
