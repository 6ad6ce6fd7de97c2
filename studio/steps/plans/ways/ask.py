"""Which ways are worked out beside a proposed plan's own, and what is the engine asked for each?

The same pieces on the same metal: only how the metal is parted differs, so that the answers can be
compared. Each is a row of its own, the plan's own way among them, so that one tap leads back.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from typing import Any, Final

from django.db import transaction

from studio.core.cutting import Job, Plan
from studio.models import CutPlan, PlanProject, WayTry
from studio.queries.plans import stock_offered_by
from studio.steps.bench.tools import tools_of
from studio.steps.plans.asking import sides_of
from studio.steps.plans.placing_settings import rules_for
from studio.steps.plans.quote import total_of
from studio.steps.plans.sharing import WAYS, parting_fields, why_not
from studio.steps.plans.taking_layouts import retaken
from studio.tasks import work_out_way

from . import lease

LATER: Final = -60
"""After every plan and every layout that waits, where the queue knows priority."""

PARTING: Final = (
    "parting",
    "parting_margin_mm",
    "strip_least_mm",
    "cut_longest_mm",
    "throat_mm",
)
LAID_BY: Final = "laid_by"
BLANKS: Final = "blanks"
TURNS: Final = "turns"
"""In `WayTry.figures`."""


def ask_ways(plan: CutPlan) -> None:
    """Write down the proposed plan's own way and ask for the others, once the caller's transaction
    is through. A plan of one student, another try beside a plan and an addition have none."""
    if plan.way not in WAYS or plan.rival_of_id is not None or plan.adds_to_id is not None:
        return
    if plan.laid is None or plan.way_tries.exists():
        return
    shares = shares_of(plan)
    WayTry.objects.create(
        plan=plan,
        way=plan.way,
        state=WayTry.State.DONE,
        job=plan.job,
        answer=plan.answer,
        **what_it_comes_to(plan, plan.asked, plan.laid, shares, plan.way),
        ended_at=plan.created_at,
    )
    tools, stock = tools_of(plan.course.school), stock_offered_by(plan)
    rules = rules_for(plan.course.school, plan.course)
    widest = max(sides_of(wanted.outline)[1] for wanted in plan.asked.pieces)
    strip = widest + 2.0 * float(rules.saw_margin_mm)
    for way in WAYS:
        if way == plan.way:
            continue
        why = why_not(way, tools, stock, strip)
        job = {} if why else _job_of(plan, shares, way, parting_fields(way, rules, tools))
        row = WayTry.objects.create(
            plan=plan,
            way=way,
            job=job,
            told=why,
            state=WayTry.State.IMPOSSIBLE if why else WayTry.State.QUEUED,
        )
        if not why:
            queue(row)


def queue(row: WayTry) -> None:
    """Hand it to a worker, after what people wait for."""
    task = work_out_way
    if task.get_backend().supports_priority:
        task = task.using(priority=LATER)
    transaction.on_commit(partial(task.enqueue, row.pk), robust=True)


def work_out_again(plan: CutPlan, way: str) -> None:
    """Ask once more for a way that had failed; asked twice is asked once."""
    row = plan.way_tries.filter(way=way, state=WayTry.State.FAILED).first()
    if row is not None and plan.state == CutPlan.State.PROPOSED:
        with transaction.atomic():
            if lease.begin_anew(row):
                queue(row)


def shares_of(plan: CutPlan) -> list[PlanProject]:
    """The plan's shares with what prices and layouts need of them."""
    shares = list(
        plan.shares.select_related("project__brief", "pattern", "layout")
        .defer("pattern__tracing", "pattern__findings_json")
        .order_by("project_id")
    )
    for share in shares:
        share.pattern.project = share.project
    return shares


def what_it_comes_to(
    plan: CutPlan, job: Job, answer: Plan, shares: Sequence[PlanProject], way: str
) -> dict[str, Any]:
    """Money, metal and waiting of an answer with the rack's offcuts, as a row keeps them."""
    money = None if answer.unplaced else total_of(plan.course, job, answer, shares, way)
    return {
        "money": money,
        "consumed_mm2": Decimal(f"{answer.measures.consumed_mm2:.2f}"),
        "unplaced": len(answer.unplaced),
        "figures": {
            LAID_BY: plan.engine_version,
            BLANKS: len(answer.blanks),
            TURNS: most_on_one(job, answer),
        },
    }


def most_on_one(job: Job, answer: Plan) -> int:
    """How many projects have pieces on the stock piece that most of them share."""
    on: dict[str, set[str | None]] = {}
    for placed in answer.placements:
        on.setdefault(placed.metal, set()).add(job.wanted_by_id[placed.piece].group)
    return max(map(len, on.values()), default=0)


def _job_of(
    plan: CutPlan, shares: Sequence[PlanProject], way: str, parting: dict[str, Any]
) -> dict[str, Any]:
    """The plan's job, parted another way, with the students' layouts that lie well in that."""
    left_out = (*PARTING, "fixed", "start")
    job = {name: value for name, value in plan.job.items() if name not in left_out} | parting
    fixed = retaken(job, shares).fixed
    return job | ({"fixed": fixed} if fixed else {})
