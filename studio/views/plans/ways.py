"""How a plan's metal is shared: the ways side by side, and the choice between them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.permissions import Action, Visit, requires
from studio.models import CutPlan
from studio.queries.plans import plan_for
from studio.running.ways.reaping import reap
from studio.steps.plans.choose_way import choose_way
from studio.steps.plans.ways.ask import work_out_again

from .ways_shown import ways_context

FIRST_PAUSE, LONGEST_PAUSE = 2, 8


@requires(Action.CHOOSE_WAY)
@never_cache
@require_GET
def plan_ways(request: Visit, pk: int) -> HttpResponse:
    """The part of the page that asks again and again while ways are worked out."""
    one = plan_for(request.user, pk)
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect("plan", pk=one.pk)
    if one.state != CutPlan.State.PROPOSED:
        answer = HttpResponse(status=204)
        answer["HX-Refresh"] = "true"
        return answer
    sent = request.GET.get("n", "")
    pause = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 4 else FIRST_PAUSE
    context = ways_beside(one) | {
        "plan": one,
        "ways_delay": min(LONGEST_PAUSE, pause + 1),
        "ways_polled": True,
    }
    return render(request, "studio/plans/ways/table.html", context)


def ways_beside(plan: CutPlan) -> dict[str, object]:
    """The context of the ways' table; whoever looks also looks after their workers."""
    reap(only_of=plan.pk)
    seats = plan.shares.filter(live=True).values("project__seat").distinct()
    return ways_context(plan, seats.count()) | {"ways_delay": FIRST_PAUSE}


@requires(Action.CHOOSE_WAY)
@require_POST
def plan_way(request: Visit, pk: int) -> HttpResponse:
    """Take another way: one tap."""
    one = plan_for(request.user, pk)
    made = choose_way(one, request.POST.get("way", "")[:10], acting=request.user)
    if made.pk != one.pk:
        messages.success(
            request,
            _("Chosen: plan %(number)s takes the place of plan %(before)s.")
            % {"number": made.pk, "before": one.pk},
        )
    return redirect("plan", pk=made.pk)


@requires(Action.CHOOSE_WAY)
@require_POST
def plan_way_again(request: Visit, pk: int) -> HttpResponse:
    """Work a way out once more that had failed."""
    one = plan_for(request.user, pk)
    work_out_again(one, request.POST.get("way", "")[:10])
    return redirect("plan", pk=one.pk)
