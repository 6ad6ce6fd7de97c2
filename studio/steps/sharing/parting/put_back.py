"""A project leaves a plan at the bench: its pattern is to be placed on metal again."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import BenchStep, PlanProject, Project, SignOff


@transaction.atomic
def back_to_be_placed(share: PlanProject, *, acting: User, why: str) -> None:
    """The share ends and the project waits for a plan again; `blank_money` takes back what it
    was charged.

    Its bench steps go, as they were worded for this metal; none may have been started. Raises
    Refused where the project is not at the bench or has begun.
    """
    project = share.project
    if SignOff.objects.filter(step__project=project).exists():
        raise Refused(f"{project} has begun at the bench, so it stays on this plan.")
    PlanProject.objects.filter(pk=share.pk).update(live=False)
    moved = Project.objects.filter(pk=project.pk, stage=Project.Stage.AT_BENCH).update(
        stage=Project.Stage.PATTERN_APPROVED, stage_since=timezone.now()
    )
    if not moved:
        raise Refused(f"{project} has moved on meanwhile. Load the page again.")
    BenchStep.objects.filter(project=project).delete()
    share.live = False
    record(acting, "project-put-back", project, f"to be placed again: {why}"[:300])
