"""The demo's plans: so many rounds and no clock, so that a busy machine makes the same ones."""

from __future__ import annotations

from collections.abc import Sequence

from classroom.models import User
from studio.core.placing import WITHOUT_COMPILING
from studio.models import CutPlan, Project, WayTry
from studio.running.placing.doing import run
from studio.running.ways.doing import run as work_out
from studio.steps.plans.place import propose

ROUNDS = WITHOUT_COMPILING + 6
"""About a second's worth on a quiet machine; compiling first would hold the demo up by minutes."""


def place_here(projects: Sequence[Project], *, acting: User) -> CutPlan:
    """The proposed plan of these projects, placed here and now."""
    return placed_here(propose(projects, acting=acting))


def placed_here(plan: CutPlan) -> CutPlan:
    """The same plan, placed here and now."""
    run(plan.placing.pk, "demo", rounds=ROUNDS)
    plan.refresh_from_db()
    return plan


def work_out_ways(plan: CutPlan) -> None:
    """What the plan would come to each other way, worked out here and now."""
    for one in plan.way_tries.filter(state=WayTry.State.QUEUED):
        work_out(one.pk, "demo", rounds=ROUNDS)
