"""A plan that somebody has laid out by hand: proposed at once, with the same prices as any."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from classroom.models import User
from classroom.refusals import Refused
from studio.models import CutPlan, PlacingJob, PlanProject, Project, WayTry

from .propose import propose_answer
from .sharing import way_of_job
from .ways.ask import ask_ways

BY_HAND: Final = "by hand"
"""Instead of the engine's version: no engine has laid it."""


def propose_by_hand(
    plan: CutPlan,
    job: dict[str, Any],
    answer: dict[str, Any],
    shares: Sequence[PlanProject],
    *,
    acting: User,
    laid_by: str = BY_HAND,
    ways: QuerySet[WayTry] | None = None,
) -> CutPlan:
    """A new proposed plan in place of a dropped one, with this judged answer and these shares.

    The job says which way it goes, `laid_by` whether hands or which engine have laid it. `ways`
    are those of the plan before, which go along; else others are worked out anew.

    Inside the caller's transaction. Raises Refused where a project has moved on.
    """
    pks = [share.project_id for share in shares]
    held = Project.objects.filter(pk__in=pks, stage=Project.Stage.PATTERN_APPROVED)
    if held.update(stage_since=F("stage_since")) != len(pks) or plan.course.closed_at is not None:
        raise Refused("One of these projects has moved on meanwhile. Load the page again.")
    try:
        with transaction.atomic():
            made = CutPlan.objects.create(
                course=plan.course,
                metal=plan.metal,
                way=way_of_job(job, [share.project for share in shares]),
                job=job,
                seed=plan.seed,
                seconds=plan.seconds,
                created_by=acting,
            )
            for share in shares:
                share.plan = made
            PlanProject.objects.bulk_create(shares)
    except IntegrityError:
        raise Refused(
            "One of these projects has been put into another cut plan at this moment. "
            "Load the page again."
        ) from None
    now = timezone.now()
    PlacingJob.objects.create(plan=made, state=PlacingJob.State.DONE, started_at=now, ended_at=now)
    propose_answer(made, answer, laid_by=laid_by, is_new=False)
    if ways is None:
        ask_ways(made)
    else:
        ways.update(plan=made)
    return made
