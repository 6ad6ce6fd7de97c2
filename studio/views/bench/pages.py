"""At the bench: one project's steps, and the whole class's."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.wording.chosen_language import (
    in_this_language,
    language_links,
    shown_in_chosen_language,
)
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.models import BenchStep, Project
from studio.queries.bench import bench_step_for, bench_steps_for, tablets_for
from studio.queries.patterns import project_for
from studio.steps.bench import sign
from studio.steps.bench.rules import title
from studio.views.house.sent_moments import moment
from studio.views.house.sure_send import refused_at_once, sent_at_once

from .class_bench import class_bench_of
from .shown import bench_context

MOST_CHECKED = 200


@requires(Action.SEE_PROJECT)
@shown_in_chosen_language
def bench(request: Visit, project_pk: int) -> HttpResponse:
    project = project_for(request.user, project_pk)
    return _page(request, bench_context(request.user, project))


@requires(Action.DO_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def step_start(request: Visit, pk: int) -> HttpResponse:
    step = bench_step_for(request.user, pk)
    try:
        step = sign.start_step(step, acting=request.user)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    messages.success(request, _("“%(step)s” is started.") % _names(step))
    return sent_at_once(request, _bench_of(request, step))


@requires(Action.DO_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def step_done(request: Visit, pk: int) -> HttpResponse:
    step = bench_step_for(request.user, pk)
    started = moment(request.POST.get("started", ""))
    try:
        step = sign.sign_done(step, acting=request.user, started=started)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    if step.done_at is None:
        text = _("You have signed “%(step)s”. Show it to your teacher now.")
    else:
        text = _("“%(step)s” is done.")
    messages.success(request, text % _names(step))
    return sent_at_once(request, _bench_of(request, step))


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def step_check(request: Visit, pk: int) -> HttpResponse:
    step = bench_step_for(request.user, pk)
    seen = moment(request.POST.get("seen", ""))
    try:
        step = sign.check_step(step, acting=request.user, seen=seen)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    messages.success(request, _("You have checked “%(step)s” of %(student)s.") % _names(step))
    return sent_at_once(request, _bench_of(request, step))


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def step_send_back(request: Visit, pk: int) -> HttpResponse:
    step = bench_step_for(request.user, pk)
    form = SendBackForm(request.POST, auto_id=f"back-{step.pk}-%s")
    if form.is_valid():
        with said_on(form):
            sign.send_back(step, acting=request.user, reason=form.cleaned_data["reason"])
            text = _("“%(step)s” is open again for %(student)s.")
            return done(request, text % _names(step), _bench_of(request, step))
    return _again(request, step, form)


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def step_override(request: Visit, pk: int) -> HttpResponse:
    step = bench_step_for(request.user, pk)
    form = OverrideForm(request.POST, auto_id=f"aside-{step.pk}-%s")
    if form.is_valid():
        with said_on(form):
            mark_done = form.cleaned_data["way"] == OverrideForm.MARK_DONE
            sign.override_step(
                step,
                acting=request.user,
                reason=form.cleaned_data["reason"],
                mark_done=mark_done,
            )
            if mark_done:
                text = _("“%(step)s” of %(student)s is marked done.")
            else:
                text = _("“%(step)s” of %(student)s can go on.")
            return done(request, text % _names(step), _bench_of(request, step))
    return _again(request, step, form)


@requires(Action.CHECK_BENCH_STEP)
@shown_in_chosen_language
def class_bench(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    language = get_language() or "en"
    context = {
        "course": course,
        "bench": class_bench_of(request.user, course),
        "lang": language,
        "sections": language_links(request, language),
        "tablets": tablets_for(request.user)
        .in_use()
        .filter(course=course)
        .annotate(last_used=Max("deeds__at")),
    }
    return render(request, "studio/bench/class_bench.html", context)


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def steps_check(request: Visit, course_pk: int) -> HttpResponse:
    """Sign the ticked steps; each one stands or falls by itself."""
    course = course_for(request.user, course_pk)
    seen = _ticked(request.POST.getlist("step"))
    steps = bench_steps_for(request.user).filter(pk__in=seen, project__brief__course=course)
    outcome = sign.check_steps(
        [(step, seen[step.pk]) for step in steps.order_by("pk")], acting=request.user
    )
    if outcome.signed:
        count = len(outcome.signed)
        text = ngettext("%(count)s step checked.", "%(count)s steps checked.", count)
        messages.success(request, text % {"count": count})
    for sentence in outcome.refused:
        messages.error(request, sentence)
    if not seen:
        messages.info(request, _("Tick the steps that you have looked at, then sign."))
    address = in_this_language(request, reverse("class_bench", args=[course.pk]))
    return sent_at_once(request, address)


def _ticked(values: list[str]) -> dict[int, dt.datetime | None]:
    """Steps and the sign-offs that were looked at, from the checkboxes; nonsense is left out."""
    found: dict[int, dt.datetime | None] = {}
    for value in values[:MOST_CHECKED]:
        pk, _at, seen = value.partition("@")
        looked_at = moment(seen)
        if pk.isascii() and pk.isdigit() and len(pk) < 16 and looked_at is not None:
            found[int(pk)] = looked_at
    return found


def _bench_of(request: Visit, step: BenchStep) -> str:
    return in_this_language(request, reverse("bench", args=[step.project_id]))


def _names(step: BenchStep) -> dict[str, str]:
    return {"step": title(step), "student": str(step.project.student)}


def _again(request: Visit, step: BenchStep, form: SendBackForm | OverrideForm) -> HttpResponse:
    """The page with the form as it was filled in, and what is wrong with it."""
    project: Project = project_for(request.user, step.project_id)
    context = bench_context(request.user, project, bound={step.pk: form})
    return _page(request, context)


def _page(request: Visit, context: dict[str, Any]) -> HttpResponse:
    language = get_language() or "en"
    more = {"lang": language, "sections": language_links(request, language)}
    return render(request, "studio/bench/bench.html", context | more)
