"""A class's sheet that is parted, made by hand: who has which blank can be read off the figures."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import box

from inventory.models import StockPiece
from studio.core.cutting import Blank, Cut, Parting, Placement, Plan, job_from_json, plan_to_json
from studio.core.cutting.formats import job_to_json
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.verifying import blanks_of, faults, measure
from studio.models import CutPlan, PlanProject, Project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import make_quotes
from tests.studio.bench.making import World

MARGIN_MM = 1.0
STRIP_MM = 15.0


def parted(
    world: World,
    owner: Project,
    classmate: Project,
    *,
    way: str = "parted",
    sheet: StockPiece | None = None,
) -> CutPlan:
    """A proposed plan on the first sheet, or the one given, 120 × 80 mm.

    The first cut stands at x = 80: what is right of it, part 2 (40 × 80 mm), is left over. The
    second lies at y = 40 across part 1: above it, part 3, is the classmate's blank, below it,
    part 4, the owner's, each 80 × 40 mm. Each has a tag of 30 × 20 mm in it.
    """
    sheet = sheet or world.sheets[0]
    patterns = [owner.patterns.get(), classmate.patterns.get()]
    data = make_job(patterns, [sheet], world.cast.school)
    cutting = "saw" if way == "sawn" else "shear"
    job = replace(job_from_json(data), parting=Parting(cutting, MARGIN_MM, STRIP_MM))
    one, other = job.pieces
    placements = (
        Placement(one.id, 0, sheet.code, mirror=False, turn_deg=0.0, x_mm=2.0, y_mm=2.0),
        Placement(other.id, 0, sheet.code, mirror=False, turn_deg=0.0, x_mm=2.0, y_mm=43.0),
    )
    cuts = (
        Cut(sheet.code, 0, (80.0, 0.0), (80.0, 80.0)),
        Cut(sheet.code, 1, (0.0, 40.0), (80.0, 40.0)),
    )
    assert faults(job, placements, cuts) == ()
    blanks = blanks_of(job, placements, cuts)
    assert {blank.part: blank.group for blank in blanks} == {4: one.group, 3: other.group}
    measures, offcuts = measure(job, placements, cuts)
    answer = Plan(
        placements, (), measures, offcuts, 1, 0.1, 1, by_hand=True, cuts=cuts, blanks=blanks
    )
    answer = with_rack_offcuts(job, answer)  # as every proposed plan has them
    return stored(world, job_to_json(job), answer, [owner, classmate], way)


def stored(
    world: World, job: dict[str, object], answer: Plan, projects: list[Project], way: str
) -> CutPlan:
    plan = CutPlan.objects.create(
        course=world.cast.course,
        metal=world.metal,
        state=CutPlan.State.PROPOSED,
        way=way,
        job=job,
        answer=plan_to_json(answer),
        created_by=world.cast.teacher,
    )
    for project in projects:
        PlanProject.objects.create(plan=plan, project=project, pattern=project.patterns.get())
    make_quotes(plan)
    return plan


def handed_out(world: World, plan: CutPlan) -> CutPlan:
    approve_plan(plan, acting=world.cast.teacher)
    return issue_plan(plan, acting=world.cast.teacher)


def on_sheets_of_their_own(world: World, owner: Project, classmate: Project) -> CutPlan:
    """A proposed plan that is to be parted, though each has a sheet alone."""
    patterns = [owner.patterns.get(), classmate.patterns.get()]
    data = make_job(patterns, world.sheets[:2], world.cast.school)
    job = replace(job_from_json(data), parting=Parting("shear", MARGIN_MM, STRIP_MM))
    placements = tuple(
        Placement(piece.id, 0, sheet.code, mirror=False, turn_deg=0.0, x_mm=2.0, y_mm=2.0)
        for piece, sheet in zip(job.pieces, world.sheets[:2], strict=True)
    )
    blanks = tuple(
        Blank(sheet.code, 0, piece.group, box(0, 0, 120, 80))
        for piece, sheet in zip(job.pieces, world.sheets[:2], strict=True)
    )
    assert faults(job, placements) == ()
    measures, offcuts = measure(job, placements)
    answer = Plan(placements, (), measures, offcuts, 1, 0.1, 1, by_hand=True, blanks=blanks)
    return stored(world, job_to_json(job), answer, [owner, classmate], "parted")
