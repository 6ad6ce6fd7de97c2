"""The steps that are done once for metal that is passed on: started, signed, checked, sent back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.acting import said_on
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.models import StockStep
from studio.queries.shared_stock import passed_stock_for, share_of, stock_step_for
from studio.steps.bench.rules import title
from studio.steps.sharing import stock_steps
from studio.steps.sharing.sticking import stick
from studio.views.house.sent_moments import moment
from studio.views.house.sure_send import refused_at_once, sent_at_once

from .passed_on import address_of, page_of


@requires(Action.STICK_PAPERS)
@require_POST
@shown_in_chosen_language
def stock_step_start(request: Visit, pk: int) -> HttpResponse:
    step = stock_step_for(request.user, pk)
    try:
        step = stock_steps.start(step, acting=request.user)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    return _said(request, step, _("“%(step)s” is started."))


@requires(Action.STICK_PAPERS)
@require_POST
@shown_in_chosen_language
def stock_step_done(request: Visit, pk: int) -> HttpResponse:
    step = stock_step_for(request.user, pk)
    started = moment(request.POST.get("started", ""))
    try:
        step = stock_steps.sign(step, acting=request.user, started=started)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    if step.done_at is None:
        return _said(request, step, _("You have signed “%(step)s”. Show it to your teacher now."))
    return _said(request, step, _("“%(step)s” is done."))


@requires(Action.STICK_PAPERS)
@require_POST
@shown_in_chosen_language
def papers_stick(request: Visit, pk: int) -> HttpResponse:
    """A student's own papers are on."""
    step = stock_step_for(request.user, pk)
    share = share_of(request.user, passed_stock_for(request.user, step.plan_stock_id))
    started = moment(request.POST.get("started", ""))
    try:
        if share is None:
            raise Refused(_("Name who has stuck these papers on, with the form below."))
        step = stick(step, share, acting=request.user, started=started)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    return _said(request, step, _("You have signed that your papers are stuck on."))


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def stock_step_check(request: Visit, pk: int) -> HttpResponse:
    step = stock_step_for(request.user, pk)
    seen = moment(request.POST.get("seen", ""))
    try:
        step = stock_steps.check(step, acting=request.user, seen=seen)
    except Refused as refusal:
        return refused_at_once(request, refusal)
    return _said(request, step, _("You have checked “%(step)s”."))


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def stock_step_send_back(request: Visit, pk: int) -> HttpResponse:
    step = stock_step_for(request.user, pk)
    form = SendBackForm(request.POST, auto_id=f"back-{step.pk}-%s")
    if form.is_valid():
        with said_on(form):
            stock_steps.send_back(step, acting=request.user, reason=form.cleaned_data["reason"])
            return _said(request, step, _("“%(step)s” is open again."))
    stock = passed_stock_for(request.user, step.plan_stock_id)
    return page_of(request, stock, bound=form, step_pk=step.pk)


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def stock_step_override(request: Visit, pk: int) -> HttpResponse:
    step = stock_step_for(request.user, pk)
    form = OverrideForm(request.POST, auto_id=f"aside-{step.pk}-%s")
    if form.is_valid():
        with said_on(form):
            mark_done = form.cleaned_data["way"] == OverrideForm.MARK_DONE
            stock_steps.override(
                step,
                acting=request.user,
                reason=form.cleaned_data["reason"],
                mark_done=mark_done,
            )
            text = _("“%(step)s” is marked done.") if mark_done else _("“%(step)s” can go on.")
            return _said(request, step, text)
    stock = passed_stock_for(request.user, step.plan_stock_id)
    return page_of(request, stock, bound=form, step_pk=step.pk)


def _said(request: Visit, step: StockStep, text: str) -> HttpResponse:
    messages.success(request, text % {"step": title(step)})
    return sent_at_once(request, address_of(request, step.plan_stock))
