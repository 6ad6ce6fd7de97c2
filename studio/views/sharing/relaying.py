"""A student's own blank came out otherwise than planned: the server lays its pieces anew."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.acting import done
from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.queries.layouts import own_blank_plan_for
from studio.steps.relaying.by_server import ask_relay


@requires(Action.LAY_OUT)
@require_POST
@shown_in_chosen_language
def blank_relay(request: Visit, plan_pk: int) -> HttpResponse:
    plan = own_blank_plan_for(request.user, plan_pk)
    ask_relay(plan, acting=request.user)
    said = _("The pieces are being laid anew. Look again in a moment.")
    return done(request, said, "plan", plan.pk)
