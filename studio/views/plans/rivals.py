"""Two plans for the same pieces side by side, and the choice between them."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.forms.plans.choosing import AgainForm
from studio.models import Brief, CutPlan
from studio.queries.plans import plan_for
from studio.running.placing.reaping import reap
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.quote import pieces_of
from studio.steps.plans.rivals import choose, rival_beside, try_beside

from .figures import drawn
from .reasons import compared, reasons_of, weighed
from .shown import progress_context, status_words

NAMES = ("A", "B")


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_beside(request: Visit, pk: int) -> HttpResponse:
    """Another try that does not give up this plan."""
    one = plan_for(request.user, pk)
    form = AgainForm(request.POST)
    if not form.is_valid():
        raise Refused("The seed is a whole number from 1 to 2147483647.")
    try_beside(
        one,
        acting=request.user,
        seed=form.cleaned_data["seed"],
        server_lays=form.cleaned_data["server_lays"],
    )
    return redirect("plan_compare", pk=one.pk)


@requires(Action.MANAGE_PLAN)
@never_cache
@require_GET
def plan_compare(request: Visit, pk: int) -> HttpResponse:
    one = plan_for(request.user, pk)
    first = plan_for(request.user, one.rival_of_id) if one.rival_of_id else one
    rival = rival_beside(first)
    if rival is None or first.state != CutPlan.State.PROPOSED:
        return redirect("plan", pk=first.pk)
    if rival.state == CutPlan.State.PLACING and reap(only=rival.placing.pk):
        rival = plan_for(request.user, rival.pk)
    sides = [_side(name, plan) for name, plan in zip(NAMES, (first, rival), strict=True)]
    context: dict[str, Any] = {
        "first": first,
        "rival": rival,
        "is_teacher": True,
        "mine": set[str](),
        "sides": sides,
        "crumbs": [
            {"label": "Cut plans", "url": reverse("plans")},
            {"label": f"Plan {first.pk}", "url": reverse("plan", args=[first.pk])},
            {"label": "Compare"},
        ],
    }
    if first.laid and rival.laid:
        answers = first.laid, rival.laid
        best = weighed(answers)
        context["figures"] = [
            {
                "label": figure.label,
                "template": figure.template,
                "cells": [
                    {"side": side, "value": value, "is_better": figure.better == place}
                    for place, (side, value) in enumerate(zip(sides, figure.values, strict=True))
                ],
            }
            for figure in compared((first, rival), answers)
        ]
        context["better"] = None if best is None else sides[best]
        sides[0]["deed"] = _keep(first, rival, "Keep A, drop B", first_choice=best != 1)
        sides[1]["deed"] = {
            "label": "Take B, drop A",
            "url": reverse("plan_choose", args=[rival.pk]),
            "first": best == 1,
        }
    else:
        context["progress"] = _progress(request, rival)
        sides[0]["deed"] = _keep(first, rival, "Keep A, stop looking", first_choice=False)
    return render(request, "studio/plans/compare.html", context)


@requires(Action.MANAGE_PLAN)
@require_POST
def plan_choose(request: Visit, pk: int) -> HttpResponse:
    """Take the other try; the plan it stood beside is dropped."""
    one = plan_for(request.user, pk)
    before = one.rival_of_id
    chosen = choose(one, acting=request.user)
    if before is not None:
        messages.success(request, f"Plan {chosen.pk} is taken, plan {before} is dropped.")
    return redirect("plan", pk=chosen.pk)


def _shares(plan: CutPlan) -> list[Any]:
    return list(
        plan.shares.select_related("project__brief", "project__seat__student", "pattern").defer(
            "pattern__tracing", "pattern__findings_json"
        )
    )


def _side(name: str, plan: CutPlan) -> dict[str, Any]:
    """One plan's column: its pictures and what speaks for it, once it is there."""
    side: dict[str, Any] = {"name": name, "plan": plan}
    if plan.laid is not None:
        shares = _shares(plan)
        side["own_layouts"] = sum(share.layout_id is not None for share in shares)
        side["set_aside"] = [
            str(share.project)
            for share in shares
            if share.layout_told and share.project.brief.laid_by == Brief.LaidBy.STANDS
        ]
        side["answer"] = plan.laid
        side["status"] = status_words(plan, bool(plan.laid.unplaced))
        side["reasons"] = reasons_of(plan.asked, plan.laid)
        side["pictures"] = drawn(
            plan.asked, plan.laid, lambda: pieces_of(shares), frame_depth_mm(plan.course.school)
        )
    return side


def _keep(first: CutPlan, rival: CutPlan, label: str, *, first_choice: bool) -> dict[str, Any]:
    return {
        "label": label,
        "url": reverse("plan_drop", args=[rival.pk]),
        "why": f"plan {first.pk} was kept",
        "first": first_choice,
    }


def _progress(request: Visit, rival: CutPlan) -> str:
    """The live part of a plan's page, which asks again by itself until the try is done."""
    context = progress_context(request.user, rival, rival.asked, _shares(rival), set())
    context |= {"plan": rival, "delay": 1}
    return render_to_string("studio/plans/parts/progress.html", context, request)
