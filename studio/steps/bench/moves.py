"""How a step moves: a student's own held with its project, any changed by compare-and-swap and
signed for.

The verbs ask the rules first; nothing here does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.models import Course, User
from classroom.refusals import Refused
from studio.models import BenchStep, CutPlan, PlanStock, Project, StockStep

from . import rules as bench_rules
from .rules import Situation
from .situation import situation

Step = BenchStep | StockStep
REASON_LENGTH = 200


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


def begin(here: Step, now: dt.datetime) -> None:
    until = bench_rules.wait_end(now, here.wait_minutes) if here.wait_minutes else None
    swap(here, {"started_at": None, "done_at": None}, started_at=now, wait_until=until)


def finish(here: BenchStep, on: Situation) -> None:
    """The step is done; after the last one the project is made."""
    swap(here, {"done_at": None}, done_at=on.now)
    if on.current is None:
        move(here.project, Project.Stage.AT_BENCH, Project.Stage.MADE, on.now)


def swap(here: Step, old: dict[str, dt.datetime | None], **new: dt.datetime | None) -> None:
    """Change the step only while it is still as it was read."""
    if not type(here).objects.filter(pk=here.pk, **old).update(**new):
        raise Refused(_("Somebody else has just changed this step. Look at it again."))
    for name, value in new.items():
        setattr(here, name, value)


def move(project: Project, old: str, new: str, now: dt.datetime) -> None:
    if Project.objects.filter(pk=project.pk, stage=old).update(stage=new, stage_since=now):
        project.stage, project.stage_since = new, now


def sign_off(
    here: Step,
    kind: str,
    acting: User,
    now: dt.datetime,
    *,
    reason: str = "",
    set_aside: Sequence[str] = (),
    **more: Any,
) -> None:
    """One sign-off that names the wording which was shown; `more` is what only some keep."""
    here.sign_offs.create(
        kind=kind,
        by=acting,
        at=now,
        reason=reason,
        set_aside=list(set_aside),
        wording_sha=here.sha_in(get_language() or "en"),
        **more,
    )


def last_sign_off(step: Step) -> str:
    last = step.sign_offs.order_by("at", "pk").last()
    return last.kind if last is not None else ""


def refuse_late(here: Step, started: dt.datetime | None) -> None:
    """Refuse a form whose page showed another start of the step."""
    if started is not None and here.started_at is not None and here.started_at != started:
        text = _(
            "“%(step)s” has been sent back and started anew since this page was loaded. Look at it "
            "again, then sign."
        )
        raise Refused(text % {"step": bench_rules.title(here)})


def require_teacher(course: Course, acting: User) -> None:
    if not acting.is_teacher or not course.teachers.filter(pk=acting.pk).exists():
        raise Refused(_("Only a teacher of this course does that."))


def reason_of(typed: str, otherwise: str) -> str:
    """The reason as it is kept. Raises Refused for none (`otherwise` says it) or a too long one."""
    why = " ".join(typed.split())
    if not why:
        raise Refused(otherwise)
    if len(why) > REASON_LENGTH:
        text = _("The reason is too long: at most %(most)s characters.")
        raise Refused(text % {"most": REASON_LENGTH})
    return why


def is_open(step: Step) -> bool:
    return step.started_at is None and step.student_signed_at is None and step.done_at is None
