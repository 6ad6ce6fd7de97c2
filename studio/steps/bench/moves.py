"""How a bench step moves: held with its project, changed by compare-and-swap, signed for.

The verbs of `sign` ask the rules first; nothing here does.
"""

from __future__ import annotations

import datetime as dt

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.refusals import Refused
from studio.models import BenchStep, CutPlan, PlanStock, Project, SignOff

from . import rules as bench_rules
from .rules import Situation
from .situation import situation


def hold(step: BenchStep) -> tuple[BenchStep, Situation]:
    """The step as it is now, and its project's bench, held until the transaction ends.

    With it the stock pieces that it shares: nobody hands them on meanwhile.
    """
    project = (
        Project.objects.select_for_update(of=("self",))
        .select_related("brief", "seat__student__school", "seat__course")
        .get(pk=step.project_id)
    )
    hold_shared_stock(project)
    on = situation(project)
    here = next(one for one in on.steps if one.pk == step.pk)
    return here, on


def hold_shared_stock(project: Project) -> None:
    """Hold what is passed on, in the one order of all who hold several."""
    passed = PlanStock.objects.filter(
        live=True,
        plan__way=CutPlan.Way.PASSED,
        plan__shares__project=project,
        plan__shares__live=True,
    )
    list(passed.select_for_update(of=("self",), no_key=True).order_by("pk"))


def begin(here: BenchStep, now: dt.datetime) -> None:
    until = bench_rules.wait_end(now, here.wait_minutes) if here.wait_minutes else None
    swap(here, {"started_at": None, "done_at": None}, started_at=now, wait_until=until)


def finish(here: BenchStep, on: Situation) -> None:
    """The step is done; after the last one the project is made."""
    swap(here, {"done_at": None}, done_at=on.now)
    if on.current is None:
        move(here.project, Project.Stage.AT_BENCH, Project.Stage.MADE, on.now)


def swap(here: BenchStep, old: dict[str, dt.datetime | None], **new: dt.datetime | None) -> None:
    """Change the step only while it is still as it was read."""
    if not BenchStep.objects.filter(pk=here.pk, **old).update(**new):
        raise Refused(_("Somebody else has just changed this step. Look at it again."))
    for name, value in new.items():
        setattr(here, name, value)


def move(project: Project, old: str, new: str, now: dt.datetime) -> None:
    if Project.objects.filter(pk=project.pk, stage=old).update(stage=new, stage_since=now):
        project.stage, project.stage_since = new, now


def sign_off(
    here: BenchStep,
    kind: str,
    acting: User,
    now: dt.datetime,
    *,
    reason: str = "",
    set_aside: list[str] | None = None,
) -> None:
    SignOff.objects.create(
        step=here,
        kind=kind,
        by=acting,
        at=now,
        reason=reason,
        set_aside=set_aside or [],
        wording_sha=here.sha_in(get_language() or "en"),
    )


def last_sign_off(step: BenchStep) -> str:
    last = step.sign_offs.order_by("at", "pk").last()
    return last.kind if last is not None else ""


def is_open(step: BenchStep) -> bool:
    return step.started_at is None and step.student_signed_at is None and step.done_at is None
