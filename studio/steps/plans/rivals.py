"""Two plans for the same pieces: another try beside a proposed plan, and the choice between them.

The projects stay on the first plan until the other is chosen; until then the other reserves
nothing, costs nothing and is seen by teachers only.
"""

from __future__ import annotations

from django.db import IntegrityError, transaction

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import CutPlan

from .drop import drop_plan
from .place import MOST_SEED, Whose, propose_beside
from .ways.ask import ask_ways

State = CutPlan.State
LIVE = (State.PLACING, State.PROPOSED)


def rival_beside(plan: CutPlan) -> CutPlan | None:
    """The live other try beside a plan, where there is one."""
    return (
        plan.rivals.filter(state__in=LIVE)
        .select_related("course__school", "metal", "placing")
        .first()
    )


def try_beside(
    plan: CutPlan, *, acting: User, seed: int | None = None, server_lays: bool = False
) -> CutPlan:
    """Ask for another plan with the same pieces, on the rack as it is now; this one stays.

    With `server_lays` no student's layout is taken, so that the two show what own layouts are
    worth. Without a `seed` one that none of the plan's tries had. Raises Refused where the plan is
    not waiting for a decision, or another try stands beside it already.
    """
    if plan.rival_of_id is not None:
        raise Refused("This is another try already. Choose one of the two, then try once more.")
    if seed is None:
        tried = plan.rivals.order_by("-seed").values_list("seed", flat=True).first()
        seed = max(plan.seed, tried or 0) % MOST_SEED + 1
    with transaction.atomic():
        # Held for this transaction: nobody approves or drops it, or begins a second try.
        held = CutPlan.objects.filter(pk=plan.pk, state=State.PROPOSED, rival_of=None)
        if not held.update(state=State.PROPOSED):
            raise Refused("Only a plan that waits for a decision can be compared with another.")
        if rival_beside(plan) is not None:
            raise Refused(
                f"Another try stands beside plan {plan.pk} already. Choose one of the two first."
            )
        return propose_beside(plan, acting=acting, seed=seed, whose=Whose(server_lays=server_lays))


@transaction.atomic
def choose(rival: CutPlan, *, acting: User) -> CutPlan:
    """Take the other try: it gets the projects, and the plan it was beside is dropped.

    Chosen twice is chosen once. Raises Refused where one of the two is not waiting any more.
    """
    if rival.rival_of_id is None:
        if rival.state == State.PROPOSED:
            return rival
        raise Refused("This plan stands alone: there is nothing to choose between.")
    first = CutPlan.objects.select_related("course__school").get(pk=rival.rival_of_id)
    # The first plan's row comes first, here as in an approval, so that the two never wait for
    # each other.
    if not CutPlan.objects.filter(pk=first.pk, state=State.PROPOSED).update(state=State.PROPOSED):
        raise Refused(f"Plan {first.pk} has been decided meanwhile. Load the page again.")
    taken = CutPlan.objects.filter(pk=rival.pk, state=State.PROPOSED, rival_of=first.pk)
    if not taken.update(rival_of=None):
        raise Refused("The other try is not there to be chosen. Load the page again.")
    drop_plan(first, acting=acting, why=f"plan {rival.pk} was chosen")
    try:
        rival.shares.update(live=True)
    except IntegrityError:
        raise Refused(
            "A project of these plans has been placed anew. Load the page again."
        ) from None
    record(acting, "plan-chosen", rival, f"chose this plan before plan {first.pk}")
    rival.refresh_from_db()
    ask_ways(rival)
    return rival
