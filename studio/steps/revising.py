"""Which row carries a student's change: the draft itself, or a new revision of a returned one."""

from __future__ import annotations

from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import Pattern, Project

from .holding import hold
from .read_in import next_number
from .start_project import require_at_work

OPEN_STATES = (Pattern.State.DRAFT, Pattern.State.RETURNED)


def to_change(pattern: Pattern, *, acting: User) -> Pattern:
    """The pattern's row, held for this transaction, as a draft.

    A returned pattern stays as it is with its remark; what is answered is a new revision that
    carries everything of it. Raises Refused when the pattern is not the student's to change now.
    """
    project = pattern.project
    require_at_work(project)
    row = hold(pattern)
    row.project = project
    if row.state == Pattern.State.REPLACED:
        raise Refused("This pattern has been replaced by a newer one; change that one.")
    if row.state not in OPEN_STATES:
        raise Refused("This pattern is handed in or approved. Take it back before you change it.")
    return row if row.state == Pattern.State.DRAFT else _next_revision(row, acting=acting)


def _next_revision(returned: Pattern, *, acting: User) -> Pattern:
    project = returned.project
    moved = Project.objects.filter(pk=project.pk, stage=Project.Stage.RETURNED).update(
        stage=Project.Stage.DRAWING, stage_since=timezone.now()
    )
    if not moved:
        raise Refused("The project has moved on meanwhile. Look at its page again.")
    project.refresh_from_db(fields=["stage", "stage_since"])
    Pattern.objects.filter(pk=returned.pk).update(state=Pattern.State.REPLACED)
    fresh = Pattern(
        project=project,
        number=next_number(project),
        file=returned.file.name,
        file_name=returned.file_name,
        sha256=returned.sha256,
        width_mm=returned.width_mm,
        copies=returned.copies,
        tracing=returned.tracing,
        relabels=returned.relabels,
        changes=returned.changes,
        recipe=returned.recipe,
        drawing_json=returned.drawing_json,
        findings_json=returned.findings_json,
    )
    fresh.save()
    record(
        acting,
        "pattern-revised",
        project,
        f"began pattern {fresh.number} from pattern {returned.number}",
        pattern=fresh.pk,
    )
    return fresh
