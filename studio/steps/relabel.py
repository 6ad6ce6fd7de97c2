"""A student says what a line is; the drawing is made and checked again at once."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.reading import GIVEN_LABELS, LABEL_WORDS
from studio.models import Pattern, Project

from .holding import hold
from .read_in import next_number
from .recheck import look_again, put_down
from .start_project import require_at_work

OPEN_STATES = (Pattern.State.DRAFT, Pattern.State.RETURNED)
LABEL_CHOICES = [(str(label), LABEL_WORDS[label]) for label in GIVEN_LABELS]


def relabel(pattern: Pattern, labels: Mapping[str, str], *, acting: User) -> Pattern:
    """Name lines anew: line id to label, "" for "as it was read".

    Answers with the pattern that carries the names: the draft itself, or a new revision when
    the teacher had returned it (the returned one keeps its remark). Raises Refused for lines
    and labels that do not exist, and when the pattern is no longer the student's to change.
    """
    _refuse_nonsense(pattern, labels)
    with transaction.atomic():
        mine = _to_change(pattern, acting=acting)
        kept = {**mine.relabels, **labels}
        wanted = {line: label for line, label in kept.items() if label}
        return _change(mine, wanted, acting=acting, text="named lines of")


def as_read(pattern: Pattern, *, acting: User) -> Pattern:
    """Undo every label the student gave. Answers and raises as `relabel` does."""
    with transaction.atomic():
        mine = _to_change(pattern, acting=acting)
        return _change(mine, {}, acting=acting, text="undid the line names of")


def change_metal(pattern: Pattern, metal: Metal, copies: int, *, acting: User) -> Pattern:
    """Choose another of the brief's metals, or another number of pieces.

    Answers with the draft that carries them, and raises, as `relabel` does.
    """
    with transaction.atomic():
        brief = pattern.project.brief
        if not brief.metals.filter(pk=metal.pk).exists():
            raise Refused("The brief does not allow that metal.")
        mine = _to_change(pattern, acting=acting)
        Project.objects.filter(pk=mine.project_id).update(metal=metal)
        Pattern.objects.filter(pk=mine.pk).update(copies=copies)
        record(
            acting,
            "pattern-metal-chosen",
            mine.project,
            f"chose {metal} for pattern {mine.number}, {copies} of it",
            pattern=mine.pk,
        )
        return mine


def _change(mine: Pattern, wanted: dict[str, str], *, acting: User, text: str) -> Pattern:
    if wanted == mine.relabels:
        return mine
    mine.relabels = wanted
    put_down(mine, look_again(mine))
    mine.save(update_fields=["relabels", "drawing_json", "findings_json"])
    record(
        acting,
        "pattern-relabelled",
        mine.project,
        f"{text} pattern {mine.number}",
        pattern=mine.pk,
        relabels=wanted,
    )
    return mine


def _to_change(pattern: Pattern, *, acting: User) -> Pattern:
    """The pattern's row, held for this transaction, as a draft."""
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


def _refuse_nonsense(pattern: Pattern, labels: Mapping[str, str]) -> None:
    known = {line["id"] for line in pattern.tracing["lines"]}
    given = {str(label) for label in GIVEN_LABELS} | {""}
    for line, label in labels.items():
        if line not in known:
            raise Refused("That line is not in this pattern. Look at the newest one.")
        if label not in given:
            raise Refused("Choose what the line is from the list.")
