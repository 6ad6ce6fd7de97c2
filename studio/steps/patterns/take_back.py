"""A student takes a pattern back before the teacher has decided."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import Pattern, Project
from studio.steps.at_work import require_at_work
from studio.steps.layouts.hand_in import give_layouts_back

from .holding import hold


@transaction.atomic
def take_back(pattern: Pattern, *, acting: User) -> None:
    """Make the handed-in pattern a draft again, and its layout open.

    Raises Refused once the teacher was first, and where it could not be handed in again.
    """
    require_at_work(pattern.project)
    hold(pattern)
    taken = Pattern.objects.filter(pk=pattern.pk, state=Pattern.State.HANDED_IN).update(
        state=Pattern.State.DRAFT, handed_in_at=None
    )
    if not taken:
        pattern.refresh_from_db(fields=["state"])
        if pattern.state == Pattern.State.DRAFT:
            return
        raise Refused("Your teacher has looked at this pattern already; see the remark.")
    give_layouts_back(pattern.project)
    Project.objects.filter(pk=pattern.project_id, stage=Project.Stage.HANDED_IN).update(
        stage=Project.Stage.DRAWING, stage_since=timezone.now()
    )
    record(
        acting,
        "pattern-taken-back",
        pattern.project,
        f"took pattern {pattern.number} back",
        pattern=pattern.pk,
    )
