"""A stock piece that is passed on: its steps, its turns, and in whose hands it is."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.acting import said_on
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import (
    in_this_language,
    language_links,
    shown_in_chosen_language,
)
from studio.forms.sharing.handing import HandOnForm, LeaveOutForm, StandInForm
from studio.models import PlanProject, PlanStock
from studio.queries.shared_stock import SharedStock, passed_stock_for, who_may_stick
from studio.steps.sharing import holding, sticking
from studio.steps.sharing.turns import move_turn
from studio.views.house.sure_send import refused_at_once, sent_at_once

from .shown import Bound, passed_context


@requires(Action.SEE_PLAN)
@shown_in_chosen_language
def passed_on(request: Visit, pk: int) -> HttpResponse:
    return page_of(request, passed_stock_for(request.user, pk))


@requires(Action.HAND_ON_METAL)
@require_POST
@shown_in_chosen_language
def metal_hand_on(request: Visit, pk: int) -> HttpResponse:
    stock = passed_stock_for(request.user, pk)
    form = HandOnForm(request.POST, people=_people(stock), auto_id="hand-on-%s")
    if form.is_valid():
        with said_on(form):
            to = _share(stock, form.cleaned_data["to"], none=HandOnForm.SHELF)
            holding.hand_on(
                stock.plan_stock,
                to,
                acting=request.user,
                reason=form.cleaned_data["reason"],
                seen=form.cleaned_data["seen"],
            )
            names = {"code": stock.plan_stock.stock_piece.code}
            if to is None:
                said = _("%(code)s lies on the shelf.") % names
            else:
                names["student"] = str(to.project.student)
                said = _("%(student)s has %(code)s now.") % names
            messages.success(request, said)
            return redirect(_onward(request, stock.plan_stock))
    return page_of(request, stock, bound=form)


@requires(Action.HAND_ON_METAL)
@require_POST
@shown_in_chosen_language
def turn_move(request: Visit, pk: int) -> HttpResponse:
    stock = passed_stock_for(request.user, pk)
    share = _share(stock, request.POST.get("share", ""))
    turn, where = request.POST.get("turn", ""), request.POST.get("where", "")
    if share is None or where not in ("earlier", "later") or not _is_number(turn):
        raise Http404
    try:
        move_turn(
            share,
            "earlier" if where == "earlier" else "later",
            acting=request.user,
            seen=int(turn),
        )
    except Refused as refusal:
        return refused_at_once(request, refusal)
    messages.success(request, _("The turns are changed."))
    return sent_at_once(request, address_of(request, stock.plan_stock))


@requires(Action.HAND_ON_METAL)
@require_POST
@shown_in_chosen_language
def papers_stand_in(request: Visit, pk: int) -> HttpResponse:
    stock = passed_stock_for(request.user, pk)
    people = {str(one.pk): one for one in who_may_stick(stock)}
    helpers = [(pk, str(one)) for pk, one in people.items()]
    form = StandInForm(request.POST, people=_people(stock), helpers=helpers, auto_id="stand-in-%s")
    if form.is_valid():
        with said_on(form):
            share = _share(stock, form.cleaned_data["share"])
            step = stock.plan_stock.steps.filter(kind="adhere").first()
            if share is None or step is None:
                raise Refused(_("No papers are stuck on this metal together."))
            step.plan_stock = stock.plan_stock
            by = people[form.cleaned_data["by"]]
            sticking.stand_in(
                step, share, by, acting=request.user, reason=form.cleaned_data["reason"]
            )
            text = _("%(name)s has stuck the papers of %(student)s on.")
            messages.success(request, text % {"name": by, "student": share.project.student})
            return redirect(address_of(request, stock.plan_stock))
    return page_of(request, stock, bound=form)


@requires(Action.HAND_ON_METAL)
@require_POST
@shown_in_chosen_language
def student_leave_out(request: Visit, pk: int) -> HttpResponse:
    stock = passed_stock_for(request.user, pk)
    form = LeaveOutForm(request.POST, people=_people(stock), auto_id="leave-out-%s")
    if form.is_valid():
        with said_on(form):
            share = _share(stock, form.cleaned_data["share"])
            if share is None:
                raise Refused(_("No pieces of this student lie on this metal."))
            sticking.leave_out(share, acting=request.user, reason=form.cleaned_data["reason"])
            text = _("%(student)s is left out; the pattern waits for another plan.")
            messages.success(request, text % {"student": share.project.student})
            return redirect(address_of(request, stock.plan_stock))
    return page_of(request, stock, bound=form)


def page_of(
    request: Visit, stock: SharedStock, *, bound: Bound | None = None, step_pk: int = 0
) -> HttpResponse:
    language = get_language() or "en"
    context: dict[str, Any] = passed_context(request.user, stock, bound=bound, step_pk=step_pk)
    more = {"lang": language, "sections": language_links(request, language)}
    return render(request, "studio/sharing/passed_on.html", context | more)


def address_of(request: Visit, plan_stock: PlanStock) -> str:
    return in_this_language(request, reverse("passed_on", args=[plan_stock.pk]))


def _onward(request: Visit, plan_stock: PlanStock) -> str:
    """Back to the class's bench where the one tap came from there."""
    if request.POST.get("from") == "class":
        course = plan_stock.plan.course_id
        return in_this_language(request, reverse("class_bench", args=[course]))
    return address_of(request, plan_stock)


def _people(stock: SharedStock) -> list[tuple[str, str]]:
    return [(str(one.pk), str(one.project.student)) for one in stock.shares]


def _share(stock: SharedStock, value: str, none: str = "") -> PlanProject | None:
    return next((one for one in stock.shares if str(one.pk) == value != none), None)


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 6
