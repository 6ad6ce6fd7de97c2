"""The versions of a project's pattern: all are kept, one is current, any can be made so again.

A version is never thrown away and its file never changes. What a student brings or builds stands
beside the others as the current one; the one before it is set aside, with its remark where it
has one. Until a version is handed in the student may go back to any of them.
"""

from __future__ import annotations

from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.standing import why_pattern_is_fixed
from studio.models import Pattern, Project
from studio.steps.at_work import require_at_work
from studio.steps.layouts.trial import ask_soon

from .ahead import still_right, worked_out
from .holding import hold
from .recheck import Checked, look_again, put_down
from .sheet_picture import keep_paper, paper_name
from .upload_quota import require_room

OPEN_STAGES = (Project.Stage.DRAWING, Project.Stage.RETURNED)
OPEN_STATES = (Pattern.State.DRAFT, Pattern.State.RETURNED)


def current_pattern(project: Project) -> Pattern | None:
    return project.patterns.current().first()


def require_open(project: Project) -> None:
    """Raises Refused when the pattern is out of the student's hands."""
    require_at_work(project)
    if project.stage not in OPEN_STAGES:
        raise Refused(why_pattern_is_fixed(project.stage))


def take_the_project(
    project: Project, *, to: str = Project.Stage.DRAWING, metal: Metal | None = None
) -> None:
    """Hold the project's row and set its stage; raises Refused where somebody was first."""
    taken = Project.objects.filter(pk=project.pk, stage__in=OPEN_STAGES).update(
        stage=to,
        stage_since=timezone.now(),
        metal=metal if metal is not None else project.metal,
    )
    project.refresh_from_db(fields=["stage", "stage_since", "metal"])
    if not taken:
        raise Refused(why_pattern_is_fixed(project.stage))


def add_version(fresh: Pattern, data: bytes, *, acting: User, paper: bytes = b"") -> Pattern:
    """Store what was read or built as the current version, within a transaction that holds the
    project (`take_the_project`).

    The same file, read in the same way, is not kept twice: the version that it made is current
    again, which also answers a second press of the button. The caller puts the files away
    (`drop_files`) when its transaction fails. Raises Refused where the project keeps too much
    already.
    """
    project = fresh.project
    twin = _twin_of(fresh)
    if twin is not None:  # the same lines, so what was found of the fresh one holds for it too
        return _make_current(twin, Checked(fresh.drawing, fresh.findings, {}), acting=acting)
    require_room(project, len(data) + len(paper))
    set_current_aside(project)
    fresh.number = _next_number(project)
    fresh.file.save(fresh.file_name, ContentFile(data), save=False)
    keep_paper(fresh, paper)
    fresh.save()
    if fresh.recipe is None:
        verb, words = "pattern-uploaded", f"uploaded pattern {fresh.number} ({fresh.file_name})"
    else:
        verb, words = "pattern-built", f"built pattern {fresh.number} from shapes"
    record(acting, verb, project, words, pattern=fresh.pk)
    ask_soon(fresh)
    return fresh


def add_copy(of: Pattern, *, acting: User) -> Pattern:
    """A version that carries everything of a returned one, with the same file as evidence.

    Within a transaction that holds the project. The returned one stays with its remark.
    """
    project = of.project
    set_current_aside(project)
    fresh = Pattern(
        project=project,
        number=_next_number(project),
        file=of.file.name,
        file_name=of.file_name,
        sha256=of.sha256,
        width_mm=of.width_mm,
        copies=of.copies,
        tracing=of.tracing,
        relabels=of.relabels,
        changes=of.changes,
        recipe=of.recipe,
        drawing_json=of.drawing_json,
        findings_json=of.findings_json,
    )
    fresh.save()
    words = f"began pattern {fresh.number} from pattern {of.number}"
    record(acting, "pattern-revised", project, words, pattern=fresh.pk)
    return fresh


def drop_files(fresh: Pattern) -> None:
    """The row is gone with its transaction; the evidence of it must not stay behind."""
    name = fresh.file.name
    if name:
        fresh.file.storage.delete(name)
        fresh.file.storage.delete(paper_name(name))


def use_again(pattern: Pattern, *, acting: User) -> Pattern:
    """Make a version that was set aside the current one; the current one is set aside for it.

    It is as it was left: a returned one is returned still, with its remark. Its findings are
    those of the brief's limits of today. Twice is once. Raises Refused once a version is handed
    in or approved, and where the project is closed.
    """
    require_at_work(pattern.project)
    ahead = None
    if not pattern.is_current:  # a second tap of the button needs no measuring
        ahead = worked_out(pattern, pattern.changes, pattern.relabels)
    with transaction.atomic():
        row = hold(pattern)
        row.project = pattern.project
        if row.state in OPEN_STATES:
            return row
        if row.is_current:
            row.project.refresh_from_db(fields=["stage"])
            raise Refused(why_pattern_is_fixed(row.project.stage))
        row.project.brief.refresh_from_db()  # its limits may be others than when it was left
        checked = still_right(ahead, row) or look_again(row)
        return _make_current(row, checked, acting=acting)


def _make_current(row: Pattern, checked: Checked, *, acting: User) -> Pattern:
    project = row.project
    returned = row.reviewed_at is not None
    stage = Project.Stage.RETURNED if returned else Project.Stage.DRAWING
    take_the_project(project, to=stage)
    if row.state in OPEN_STATES:
        return row
    set_current_aside(project)
    row.state = Pattern.State.RETURNED if returned else Pattern.State.DRAFT
    put_down(row, checked)
    row.save(update_fields=["state", "drawing_json", "findings_json"])
    record(
        acting,
        "pattern-used-again",
        project,
        f"took pattern {row.number} up again",
        pattern=row.pk,
    )
    ask_soon(row)
    return row


def set_current_aside(project: Project) -> None:
    """The draft or returned version makes room; it keeps its remark and can be used again."""
    project.patterns.filter(state__in=OPEN_STATES).update(state=Pattern.State.ASIDE)


def _next_number(project: Project) -> int:
    return int(project.patterns.aggregate(last=Max("number"))["last"] or 0) + 1


def _twin_of(fresh: Pattern) -> Pattern | None:
    """A version of this very file, read in this very way, that nobody has changed or reviewed."""
    alike = fresh.project.patterns.filter(
        sha256=fresh.sha256,
        copies=fresh.copies,
        state__in=[Pattern.State.DRAFT, Pattern.State.ASIDE],
        reviewed_at=None,
        relabels={},
        changes=[],
    )
    typed = fresh.width_mm is None, float(fresh.width_mm or 0)
    for one in alike:
        if (one.width_mm is None, float(one.width_mm or 0)) != typed:
            continue
        if one.tracing == fresh.tracing and _steps(one) == _steps(fresh):
            one.project = fresh.project
            return one
    return None


def _steps(pattern: Pattern) -> Any:
    """The shapes it was built from; None where it came from a file."""
    return None if pattern.recipe is None else pattern.recipe.get("steps")
