"""What a teacher does with a layout, and taking today's pattern, metal and rules into one."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.queries.layouts import layout_for
from studio.steps.layouts.nudge import nudge_layout
from studio.steps.layouts.renew import renew_layout
from studio.steps.layouts.use import use_layout
from studio.steps.relaying.by_hand import relay


@requires(Action.MANAGE_PLAN)
@require_POST
def layout_use(request: Visit, pk: int) -> HttpResponse:
    """The layout of a plan becomes the plan."""
    made = use_layout(layout_for(request.user, pk), acting=request.user)
    messages.success(
        request, "This is the plan now, as you have laid it. Nothing is reserved until you approve."
    )
    return redirect("plan", pk=made.pk)


@requires(Action.LAY_OUT)
@require_POST
@shown_in_chosen_language
def layout_relay(request: Visit, pk: int) -> HttpResponse:
    """The layout of a student's own blank becomes what is sawn of it."""
    plan = relay(layout_for(request.user, pk), acting=request.user)
    messages.success(request, gettext("This is how the pieces lie on the blank now."))
    return redirect("plan", pk=plan.pk)


@requires(Action.NUDGE_LAYOUT)
@require_POST
def layout_nudge(request: Visit, pk: int) -> HttpResponse:
    """A copy of a student's layout, for the teacher to lay on."""
    copy = nudge_layout(layout_for(request.user, pk), acting=request.user)
    return redirect("layout", pk=copy.pk)


@requires(Action.LAY_OUT)
@require_POST
@shown_in_chosen_language
def layout_renew(request: Visit, pk: int) -> HttpResponse:
    """Today's pattern, metal and rules; what does not fit them any more lies in the tray."""
    layout = layout_for(request.user, pk)
    renew_layout(layout, acting=request.user)
    messages.success(request, gettext("The layout goes by today’s pattern, metal and rules now."))
    return redirect("layout", pk=layout.pk)
