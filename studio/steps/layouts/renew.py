"""A layout is laid by today's pattern, stock pieces and rules: what is still there stays where it
lies, the rest goes back to the tray."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.laying_out.carried import carried
from studio.core.laying_out.holds import within_pattern
from studio.models import Layout, Pattern, Project
from studio.steps.plans import asking
from studio.steps.plans.placing_settings import rules_for
from studio.steps.plans.taking_layouts import RECTANGLES, rectangles_of

from .may_lay import require_may_change
from .parting import parted_as
from .standing import job_of_today, patterns_of_today


@transaction.atomic
def renew_layout(layout: Layout, *, acting: User) -> Layout:
    """Take today's pattern, stock and rules into the layout's job. Renewed twice is once.

    Raises Refused where this person may not change it (any more), and where the rack has none of
    the metal any more.
    """
    if layout.project is not None:
        layout.project.stage = Project.objects.select_for_update().get(pk=layout.project.pk).stage
    row = Layout.objects.select_for_update().get(pk=layout.pk)
    row.project, row.plan = layout.project, layout.plan
    require_may_change(row, acting)
    renew_for(row, patterns_of_today(row))
    about: Any = row.project or row.plan
    record(
        acting,
        "layout-renewed",
        about,
        f"took today’s pattern, metal and rules into layout {row.number}",
        layout=row.pk,
    )
    return row


def renew_for(row: Layout, patterns: list[Pattern]) -> None:
    """The same for these versions, inside the caller's transaction."""
    job = job_of_today(row, patterns)
    if not job["metal"]:
        job = _on_other_metal(row, patterns)
        if row.plan_id is not None:
            job = parted_as(job, row.job)
    if job == row.job and all(row.pattern_id == pattern.pk for pattern in patterns):
        return
    now = {within_pattern(piece["id"]): piece for piece in job["pieces"]}
    codes = {metal["id"] for metal in job["metal"]}
    ids = {piece["id"] for piece in job["pieces"]}

    def today(piece: str) -> str:
        """The id of a piece in the new job: of a plan's layout it is the same one."""
        if piece in ids or row.plan_id is not None:
            return piece
        return str(now.get(within_pattern(piece), {}).get("id", ""))

    counts = {piece["id"]: piece["count"] for piece in job["pieces"]}
    before = {piece["id"]: piece["outline"] for piece in row.job["pieces"]}
    outlines = {piece["id"]: piece["outline"] for piece in job["pieces"]}

    def moved(placed: dict[str, Any]) -> dict[str, Any]:
        piece = today(placed["piece"])
        outline = outlines[piece]
        lies = carried(placed, before.get(placed["piece"], outline), outline)
        return lies | {"piece": piece}

    row.placements = [
        moved(placed)
        for placed in row.placements
        if placed["copy"] < counts.get(today(placed["piece"]), 0) and placed["metal"] in codes
    ]
    there = {(placed["piece"], placed["copy"]) for placed in row.placements}
    row.pinned = [
        [today(piece), copy] for piece, copy in row.pinned if (today(piece), copy) in there
    ]
    row.cuts = [cut for cut in row.cuts if cut["metal"] in codes]
    row.job = job
    if row.project_id is not None:
        row.pattern = patterns[0]
    # What was done before was done to other pieces on other metal.
    row.past, row.future, row.beside = [], [], {}
    kept = {code: sides for code, sides in rectangles_of(row).items() if code in codes}
    row.figures = {RECTANGLES: kept} if kept else {}
    row.version += 1
    row.changed_at = timezone.now()
    row.save()


def _on_other_metal(row: Layout, patterns: list[Pattern]) -> dict[str, Any]:
    """None of the layout's stock pieces is free any more: those that the rack offers today."""
    project = patterns[0].project
    if project.metal is None:
        raise Refused(gettext("Choose the metal of your project first."))
    school = row.course.school
    rules = rules_for(school, project.brief.course)
    apart = rules.apart(pattern.project.brief for pattern in patterns)
    stock = asking.choose_stock(
        project.metal,
        asking.wanted_of(patterns),
        gap_mm=apart.gap_mm,
        margin_mm=float(rules.edge_margin_mm),
    )
    return asking.make_job(patterns, stock, school)
