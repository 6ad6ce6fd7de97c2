"""A cut plan is closed: offcuts go back to the rack, scrap is weighed, the price is settled.

One transaction: metal, money, balance and projects change together or not at all. What went out
equals what came back plus pieces plus saw cuts; what the scales say differently is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from shapely.geometry import MultiPolygon, Polygon

from classroom.models import User, record, subject_of
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import stock
from inventory.rack.scrap import weigh_scrap
from inventory.spending import ledger
from studio.core.cutting import Job, Plan
from studio.core.cutting.groups import group_of
from studio.core.offcuts.returning import (
    Balance,
    Leaf,
    ReturnError,
    StockOut,
    balance,
    smaller,
    what_comes_back,
)
from studio.models import CutPlan, PartEntry, Project, Return
from studio.queries.additions import (
    additions_on,
    all_together,
    left_out_of,
    open_addition,
    projects_on,
    whole_layout,
)
from studio.steps.plans.drop import drop_plan

from .balance_sheet import OutAtBench, written
from .settle import Settled, settle
from .use_up import use_supplies

State = CutPlan.State
MOST_SCRAP_G = Decimal(100_000)
REASON_LENGTH = 150

Size = tuple[Decimal, Decimal]
Kept = Mapping[str, Size | None]
"""Keys of the offcuts that go back to the rack; None as the plan leaves it, else width and
height in mm of the smaller rectangle that came back. Offcuts not named are scrap."""


def at_the_bench(plan: CutPlan) -> OutAtBench:
    """The plan's stock pieces and what comes back of them if what is not made is given up.

    What was added to its metal lies there too. Raises Refused for such an addition itself, and
    where metal of the plan is parted already.
    """
    projects = projects_on(plan)
    left_out = left_out_of(plan)
    unmade = [one for one in projects if one.stage != Project.Stage.MADE]
    held = plan.reserved.filter(live=True).values("stock_piece")
    pieces = list(
        StockPiece.objects.filter(pk__in=held).select_related("metal", "school").order_by("code")
    )
    _whole_or_not_parted(plan)
    job, answer = _asked_and_answered(plan)
    outs = what_comes_back(
        job,
        answer,
        [piece.code for piece in pieces],
        given_up={group_of(one.pk) for one in unmade},
        left_out={group_of(pk) for pk in left_out},
    )
    return OutAtBench(
        outs,
        {piece.code: piece for piece in pieces},
        unmade,
        [one for one in projects if one.stage == Project.Stage.MADE],
        left_out,
    )


def every_offcut(plan: CutPlan) -> Kept:
    """All that the plan leaves goes back to the rack, as it leaves it."""
    return dict.fromkeys(leaf.key for leaf in at_the_bench(plan).leaves)


def hold_issued(plan: CutPlan) -> bool:
    """Whether the plan's metal is still out, held for this transaction: of two who bring it back
    at once, one is first."""
    held = CutPlan.objects.select_for_update(no_key=True).only("state").get(pk=plan.pk)
    return held.state == State.ISSUED


@transaction.atomic
def close_plan(
    plan: CutPlan,
    *,
    acting: User,
    offcuts_kept: Kept,
    scrap_mass_g: Decimal,
    remark: str = "",
    given_up_reason: str = "",
    overdraw_reason: str = "",
    place: str = "",
) -> Return:
    """Take the metal back, settle the price and close the plan with its projects.

    `offcuts_kept` names the offcuts (`at_the_bench(plan).leaves`) that go back to the rack, to
    `place`; `scrap_mass_g` is what the scales say. Projects that are not made are given up only
    with `given_up_reason`. Closing a closed plan changes nothing and answers with its return.
    Raises Refused where something is missing or does not fit, and OverBudget when more was used
    than planned, the budget does not hold it and no `overdraw_reason` is given.
    """
    now = timezone.now()
    swapped = CutPlan.objects.filter(pk=plan.pk, state=State.ISSUED, adds_to=None).update(
        state=State.CLOSED, closed_by=acting, closed_at=now
    )
    plan.refresh_from_db()
    if not swapped:
        if plan.adds_to is not None:
            raise Refused(
                f"These pieces were added to the metal of plan {plan.adds_to_id}: close that one, "
                "and this one is closed with it."
            )
        if plan.state == State.CLOSED:
            return plan.metal_return
        raise Refused(
            f"This plan cannot be closed: it is {plan.get_state_display()}. "
            "Its metal has to be handed out first."
        )
    _drop_what_is_not_added_yet(plan, acting)
    # Held, so that no step is sent back while its project is being closed.
    list(
        Project.objects.select_for_update()
        .filter(plan_shares__plan__in=[one.pk for one in all_together(plan)])
        .order_by("pk")
    )
    bench = at_the_bench(plan)
    why_given_up = _may_close(bench, given_up_reason)
    mass = _grams(scrap_mass_g)
    kept = _outlines(bench, offcuts_kept)
    settled = settle(plan, bench.outs, bench.stock, kept)
    balances = {out.code: _balance(out, kept) for out in bench.outs}
    returned = _to_the_rack(plan, bench, kept, settled, acting, place)
    cause = subject_of(plan)
    if bench.outs:
        alloy = plan.metal.alloy_code
        weigh_scrap(
            plan.course.school, alloy, mass, acting=acting, reason=f"scrap of {plan}", cause=cause
        )
    for one in all_together(plan):
        _settle_the_budget(one, settled.differences[one.pk], acting, overdraw_reason)
        use_supplies(one, bench.made, acting=acting)
    _close_projects(plan, bench, acting, why_given_up, now)
    plan.reserved.filter(live=True).update(live=False)
    _close_additions(plan, acting, now)
    metal_return = Return.objects.create(
        plan=plan,
        by=acting,
        at=now,
        scrap_mass_g=mass,
        remark=" ".join(remark.split())[:300],
        balance=written(plan, bench, balances, returned, settled, mass, why_given_up),
    )
    record(
        acting,
        "plan-closed",
        plan,
        f"closed the cut plan: {len(returned)} offcut{'' if len(returned) == 1 else 's'} to the "
        f"rack, {mass} g of scrap",
        offcuts=[piece.code for _, piece in returned],
        difference=str(settled.difference),
        remark=metal_return.remark,
    )
    return metal_return


def _asked_and_answered(plan: CutPlan) -> tuple[Job, Plan]:
    if plan.adds_to_id is not None:
        raise Refused(
            f"These pieces were added to the metal of plan {plan.adds_to_id}: what is left of it "
            "is brought back there, all at once."
        )
    whole = whole_layout(plan)
    if whole.laid is None:
        raise Refused("This plan has no placements yet, so there is nothing to bring back.")
    return whole.asked, whole.laid


def _whole_or_not_parted(plan: CutPlan) -> None:
    """Refuse a shared plan some of whose metal is parted: its students bring back their own."""
    if PartEntry.objects.filter(plan_stock__plan=plan).exists() or plan.own_plans.exists():
        raise Refused(
            "Metal of this plan is parted already. Part the rest of it too; then each student's "
            "metal is brought back by itself, on that student's own plan."
        )


def _may_close(bench: OutAtBench, given_up_reason: str) -> str:
    """The reason for giving up what is not made; "" when all is made."""
    why = " ".join(given_up_reason.split())[:REASON_LENGTH]
    if bench.unmade and not why:
        names = ", ".join(str(one.student) for one in bench.unmade)
        raise Refused(
            f"Not made yet: {names}. Wait until the last step is signed, or give these projects "
            "up with a reason."
        )
    return why if bench.unmade else ""


def _grams(mass: Decimal) -> Decimal:
    if not mass.is_finite() or not 0 <= mass <= MOST_SCRAP_G:
        raise Refused(f"Give the scrap's weight in grams, from 0 to {MOST_SCRAP_G:,}.")
    return mass.quantize(Decimal("0.01"))


def _outlines(bench: OutAtBench, kept: Kept) -> dict[str, Polygon | MultiPolygon]:
    """The outline of every offcut that goes back, by its key."""
    leaves = {leaf.key: leaf for leaf in bench.leaves}
    found: dict[str, Polygon | MultiPolygon] = {}
    for key, size in kept.items():
        leaf = leaves.get(key)
        if leaf is None:
            raise Refused(
                "What comes back of this plan has changed since the page was loaded. Load it again."
            )
        try:
            found[key] = leaf.outline if size is None else smaller(leaf, *map(float, size))
        except ReturnError as error:
            raise Refused(str(error)) from None
    return found


def balances_of(bench: OutAtBench, offcuts_kept: Kept) -> list[Balance]:
    """The balance of each stock piece if these offcuts went back. Raises Refused as closing."""
    kept = _outlines(bench, offcuts_kept)
    return [_balance(out, kept) for out in bench.outs]


def _balance(out: StockOut, kept: Mapping[str, Polygon | MultiPolygon]) -> Balance:
    try:
        return balance(out, [kept[leaf.key] for leaf in out.leaves if leaf.key in kept])
    except ReturnError as error:
        raise Refused(str(error)) from None


def _to_the_rack(
    plan: CutPlan,
    bench: OutAtBench,
    kept: Mapping[str, Polygon | MultiPolygon],
    settled: Settled,
    acting: User,
    place: str,
) -> list[tuple[Leaf, StockPiece]]:
    """Each stock piece is cut up into its offcuts, or comes back whole; the offcuts' new rows."""
    cause, reason = subject_of(plan), f"brought back from {plan}"
    returned: list[tuple[Leaf, StockPiece]] = []
    for out in bench.outs:
        piece = bench.stock[out.code]
        leaves = [leaf for leaf in out.leaves if leaf.key in kept]
        if leaves and leaves[0].whole and kept[leaves[0].key] is leaves[0].outline:
            stock.bring_back([piece], acting=acting, reason=reason, cause=cause)
            returned.append((leaves[0], piece))
            continue
        costs = settled.offcut_costs[out.code]
        offcuts = []
        remeasured = set()
        for number, (leaf, cost) in enumerate(zip(leaves, costs, strict=True)):
            outline = kept[leaf.key]
            if outline is not leaf.outline:
                remeasured.add(number)
            if not isinstance(outline, Polygon):
                raise Refused(
                    f"{out.code} is in several parts: bring it back whole, or give the size of "
                    "the part that came back."
                )
            offcuts.append((outline, cost))
        made = stock.cut_up(
            piece,
            offcuts,
            acting=acting,
            reason=reason,
            cause=cause,
            place=place,
            remeasured=remeasured,
        )
        returned += zip(leaves, made, strict=True)
    return returned


def _drop_what_is_not_added_yet(plan: CutPlan, acting: User) -> None:
    """An addition that is only planned has no metal any more to be added to."""
    waiting = open_addition(plan)
    if waiting is not None:
        drop_plan(waiting, acting=acting, why=f"plan {plan.pk} was closed")


def _close_additions(plan: CutPlan, acting: User, now: Any) -> None:
    """What was added to the metal ends with it."""
    for added in additions_on(plan):
        CutPlan.objects.filter(pk=added.pk, state=State.ISSUED).update(
            state=State.CLOSED, closed_by=acting, closed_at=now
        )
        added.reserved.filter(live=True).update(live=False)
        record(acting, "plan-closed", added, f"closed the cut plan together with plan {plan.pk}")


def _settle_the_budget(
    plan: CutPlan, difference: Decimal, acting: User, overdraw_reason: str
) -> None:
    """Credit or charge what was used less or more than planned."""
    budget = ledger.open_budget(plan.course)
    cause, reason = subject_of(plan), f"settled {plan}"
    if difference < 0:
        ledger.credit(budget, -difference, acting=acting, reason=reason, cause=cause)
    elif difference > 0:
        ledger.charge(
            budget,
            difference,
            acting=acting,
            reason=reason,
            cause=cause,
            overdraw_reason=overdraw_reason,
        )


def _close_projects(
    plan: CutPlan, bench: OutAtBench, acting: User, why_given_up: str, now: Any
) -> None:
    open_stages = (Project.Stage.AT_BENCH, Project.Stage.MADE)
    for project in (*bench.made, *bench.unmade):
        closed = Project.objects.filter(pk=project.pk, stage__in=open_stages).update(
            stage=Project.Stage.CLOSED, stage_since=now
        )
        if not closed:
            raise Refused(f"{project} has moved on meanwhile. Load the page again.")
    for project in bench.unmade:
        record(
            acting,
            "project-given-up",
            project,
            f"gave the project up when {plan} was closed",
            why=why_given_up,
        )
