"""A shared plan whose sheet is parted into a blank for every project, laid by hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shapely.geometry import Polygon, box

from inventory.models import StockPiece
from studio.core.cutting import Blank, Cut, Placement, Plan, job_from_json, plan_to_json
from studio.core.cutting.groups import group_of
from studio.core.cutting.job import Measures, Offcut
from studio.core.verifying import parts_of
from studio.models import CutPlan, PlanProject, Project
from studio.steps.plans.asking import make_job
from studio.steps.plans.quote import make_quotes
from tests.studio.bench.making import World

PARTED = {
    "shear": {"parting": "shear", "parting_margin_mm": 1.0, "strip_least_mm": 15.0},
    "saw": {"parting": "saw", "parting_margin_mm": 2.0, "strip_least_mm": 5.0},
}


def side_by_side(
    world: World,
    projects: Sequence[Project],
    sheet: StockPiece,
    *,
    way: str = "shear",
    widths: Sequence[float],
    offcuts: Sequence[Polygon] = (),
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Job and answer: upright cuts from the left, a blank of such a width for each project with
    its one piece 2 mm from the blank's lower left corner; what is right of the last cut is left.

    `offcuts` are those in the blanks, where they lie on the sheet.
    """
    patterns = [one.patterns.select_related("project__brief").get() for one in projects]
    data = make_job(patterns, [sheet], world.cast.school) | PARTED[way]
    job = job_from_json(data)
    height, x, part = float(sheet.height_mm), 0.0, 0
    cuts, spots = [], []
    for number, width in enumerate(widths):
        spots.append((x + 2.0, 2.0))
        x += width
        # upwards: the part on the left is the blank, that on the right is cut further
        cuts.append(Cut(sheet.code, part, (x, 0.0), (x, height)))
        part = 2 * number + 2
    parts = parts_of(job, sheet.code, cuts)
    blanks = tuple(
        Blank(sheet.code, 2 * n + 1, group_of(one.pk), parts[2 * n + 1])  # type: ignore[arg-type]
        for n, one in enumerate(projects)
    )
    placements = tuple(
        Placement(wanted.id, 0, sheet.code, False, 0.0, *spot)
        for wanted, spot in zip(job.pieces, spots, strict=True)
    )
    rest = parts[part]
    left = [rest] if isinstance(rest, Polygon) else []
    kept = tuple(Offcut(sheet.code, outline, 0.0) for outline in [*offcuts, *left])
    answer = Plan(placements, (), Measures(), kept, 1, 0.1, 1, True, tuple(cuts), blanks)
    return data, plan_to_json(answer)


def shared_sheet(
    world: World,
    projects: Sequence[Project],
    job: dict[str, Any],
    answer: dict[str, Any],
    way: str = CutPlan.Way.PARTED,
) -> CutPlan:
    """The proposed plan of these projects, with its quotes."""
    plan = CutPlan.objects.create(
        course=world.cast.course,
        metal=world.metal,
        state=CutPlan.State.PROPOSED,
        way=way,
        job=job,
        answer=answer,
        created_by=world.cast.teacher,
    )
    for project in projects:
        PlanProject.objects.create(plan=plan, project=project, pattern=project.patterns.get())
    make_quotes(plan)
    return plan


PIECE = box(0, 0, 20, 20)
