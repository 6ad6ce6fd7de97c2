"""What the engine is asked for each wish of somebody at a layout."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext

from classroom.refusals import Refused
from studio.core.cutting import Job, Placement
from studio.core.verifying import faults
from studio.models import Layout, TrialLayout
from studio.steps.layouts.server_tries import staying, undivided
from studio.steps.plans.by_hand import BY_HAND

from .nearest import nearest

Wish = TrialLayout.Wish


@dataclass(frozen=True, slots=True)
class Effort:
    """The search ends with whichever is over first."""

    seconds: float | None  # None: no clock ends it
    rounds: int


@dataclass(frozen=True, slots=True)
class Wished:
    job: Job
    effort: Effort


EFFORT = {
    Wish.WHOLE: Effort(seconds=3.0, rounds=40),
    Wish.REST: Effort(seconds=1.5, rounds=10),
    Wish.IMPROVE: Effort(seconds=4.0, rounds=60),
    Wish.NEAREST: Effort(seconds=1.0, rounds=1),
}
"""The nearest layout is only made whole, never made better: that would move what is good."""


def wished(trial: TrialLayout) -> Wished:
    """The job with what stays and what is begun from, as the layout lies now.

    Raises Refused where what stays has a fault: the judge takes what is fixed for good.
    """
    assert trial.layout is not None
    layout, wish = trial.layout, Wish(trial.wish)
    job, laid = layout.asked, layout.laid
    fixed = staying(layout, wish)
    if faults(undivided(job), fixed):
        raise Refused(
            gettext(
                "What is to stay where it lies is not good: the layout table shows where. Mend "
                "that, then ask once more."
            )
        )
    start: tuple[Placement, ...] = ()
    match wish:
        case Wish.REST:
            pass
        case Wish.IMPROVE:
            start = _others(laid, fixed)
        case Wish.NEAREST:
            start = _others(
                nearest(job, laid, {(p.piece, p.copy) for p in fixed}, layout.parted), fixed
            )
        case _:
            start = _others(as_planned(layout), fixed)
    return Wished(replace(job, fixed=fixed, start=start), EFFORT[wish])


def as_planned(layout: Layout) -> tuple[Placement, ...]:
    """How the engine has laid the plan already, longer than it looks here: so what it answers is
    never worse than that, and nobody beats it by leaving the plan as it is."""
    plan = layout.plan
    if plan is None or plan.laid is None or plan.engine_version == BY_HAND:
        return ()
    return tuple(p for p in plan.laid.placements if p.metal in layout.asked.stock_by_id)


def _others(laid: tuple[Placement, ...], fixed: tuple[Placement, ...]) -> tuple[Placement, ...]:
    stays = {(p.piece, p.copy) for p in fixed}
    return tuple(p for p in laid if (p.piece, p.copy) not in stays)
