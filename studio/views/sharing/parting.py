"""Metal is parted: what to cut, who may, what came out of it, and the labels for that."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import language_links, shown_in_chosen_language
from inventory.views.labels import labels_printed
from studio.forms.sharing.parted import CorrectPartForm, PartedForm
from studio.models import StockStep
from studio.queries.plans import plan_for
from studio.queries.sharing import (
    part_entry_for,
    part_step_for,
    part_steps_for,
    parts_made_of,
)
from studio.steps.sharing.parting.correct_part import correct_part, why_not_corrected
from studio.steps.sharing.parting.part import sign_parted, start_parting
from studio.steps.sharing.parting.planned_parts import planned_parts

from .parting_shown import step_context


@requires(Action.PART_METAL)
@shown_in_chosen_language
def part_metal(request: Visit, pk: int) -> HttpResponse:
    """The page of one stock piece; the form on it says what came out, and signs."""
    step = part_step_for(request.user, pk)
    form = _form(request, step)
    if request.method == "POST" and form is not None and form.is_valid():
        with said_on(form):
            sign_parted(
                step,
                acting=request.user,
                measured=form.measured(),
                place=form.cleaned_data["place"],
            )
            text = _("%(code)s is parted. Stick the labels on the parts now.")
            said = text % {"code": step.plan_stock.stock_piece.code}
            return done(request, said, "part_metal", step.pk)
    if request.method == "POST":
        step = part_step_for(request.user, pk)  # as it stands after a refusal
    return _page(request, step, form, status=422 if form is not None and form.is_bound else 200)


@requires(Action.PART_METAL)
@require_POST
@shown_in_chosen_language
def part_start(request: Visit, pk: int) -> HttpResponse:
    step = part_step_for(request.user, pk)
    start_parting(step, acting=request.user)
    text = _("Parting of %(code)s is started.")
    messages.success(request, text % {"code": step.plan_stock.stock_piece.code})
    return redirect("part_metal", pk=step.pk)


@requires(Action.MANAGE_PLAN)
@shown_in_chosen_language
def part_correct(request: Visit, pk: int) -> HttpResponse:
    """A blank was entered with other sides than it has."""
    entry = part_entry_for(request.user, pk)
    step = part_steps_for(request.user).get(plan_stock=entry.plan_stock)
    form = CorrectPartForm(
        request.POST if request.method == "POST" else None,
        school=request.user.school,
        initial={"width": entry.width_mm, "height": entry.height_mm},
    )
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            correct_part(entry, form.said(), acting=request.user)
            text = _("Part %(part)s is corrected.") % {"part": entry.part}
            return done(request, text, "part_metal", step.pk)
    plan = step.plan_stock.plan
    context = {
        "entry": entry,
        "form": form,
        "why_not": why_not_corrected(entry, request.user),
        "step": step,
        "crumbs": [
            {"label": capfirst(str(plan)), "url": reverse("plan", args=[plan.pk])},
            {
                "label": step.plan_stock.stock_piece.code,
                "url": reverse("part_metal", args=[step.pk]),
            },
            {"label": _("Correct a part")},
        ],
    }
    status = 422 if form.is_bound else 200
    return render(request, "studio/sharing/part_correct.html", context, status=status)


@requires(Action.SEE_RACK)
@require_GET
def parting_labels(request: Visit, plan_pk: int) -> HttpResponse:
    """Labels of all blanks and leftovers that came out of the plan's metal."""
    plan = plan_for(request.user, plan_pk)
    pieces = parts_made_of(plan)
    if not pieces:
        raise Refused("No labels yet: no metal of this plan has been parted.")
    back = reverse("plan", args=[plan.pk])
    return labels_printed(request, pieces, back, f"labels of parting {plan.pk}")


def _form(request: Visit, step: StockStep) -> PartedForm | None:
    if step.done_at is not None:
        return None
    row = step.plan_stock
    return PartedForm(
        request.POST if request.method == "POST" else None,
        parts=planned_parts(row.plan, row.stock_piece.code),
        school=request.user.school,
    )


def _page(request: Visit, step: StockStep, form: PartedForm | None, *, status: int) -> HttpResponse:
    language = get_language() or "en"
    plan = step.plan_stock.plan
    shown = step_context(request.user, step, language)
    letters = {part.number: part.letter for part in shown["metal"].parts}
    rows = form.rows() if form is not None else []
    context: dict[str, Any] = shown | {
        "form": form,
        "rows": [row | {"letter": letters[row["part"].number]} for row in rows],
        "lang": language,
        "sections": language_links(request, language),
        "crumbs": [
            {"label": _("Cut plans"), "url": reverse("plans")},
            {"label": capfirst(str(plan)), "url": reverse("plan", args=[plan.pk])},
            {"label": step.title_in(language)},
        ],
    }
    return render(request, "studio/sharing/part.html", context, status=status)
