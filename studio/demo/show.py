"""The main job, once, for real: a student's file becomes a plan, a price and prints."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from classroom.figures.units import format_area, format_length
from classroom.models import Seat
from classroom.papers.printing import PaperIsMissing
from studio.core.reading import Asked, Upload
from studio.models import Brief, CutPlan, PlanProject, Project
from studio.prints.files import write_prints
from studio.steps.patterns.answer import approve_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.start_project import start_project
from studio.steps.plans.approve import approve_plan

from .people import SCHOOL
from .placing import place_here
from .story import PATTERNS

STUDENT = "wick.y"
DRAWING = "lighthouse"


def run_main_job(folder: Path) -> Iterator[str]:
    """Do it, or tell of it when it has been done before; a line for each stage."""
    seat = Seat.objects.get(student__username=STUDENT, course__school__name=SCHOOL)
    brief = Brief.objects.get(course=seat.course, title="Harbour pendant")
    share = PlanProject.objects.filter(project__seat=seat, project__brief=brief, live=True).first()
    if share is None:
        yield from _make_plan(seat, brief)
        share = PlanProject.objects.get(project__seat=seat, project__brief=brief, live=True)
    else:
        yield "done on an earlier start; the prints are written again"
    yield from _tell_of(share.plan)
    folder.mkdir(parents=True, exist_ok=True)
    try:
        for path in write_prints(share.plan, folder):
            yield f"printed  {path}"
    except PaperIsMissing as missing:
        yield f"printed  nothing: {missing}"


def _make_plan(seat: Seat, brief: Brief) -> Iterator[str]:
    teacher = seat.course.teachers.get(keeps_school=True)
    metal = brief.metals.get(alloy_code="C11000")  # the proposed plan lies on the brass
    project = start_project(brief, seat, acting=seat.student)
    with (PATTERNS / f"{DRAWING}.svg").open("rb") as file:
        upload = Upload.taken(file, Asked(f"{DRAWING}.svg"))
    pattern = read_in(project, upload, acting=seat.student, metal=metal)
    drawing = pattern.drawing
    width, height = drawing.pieces[0].size_mm
    yield (
        f"read     {DRAWING}.svg: {len(drawing.pieces)} piece, {drawing.window_count} windows, "
        f"{format_length(width)} × {format_length(height)}"
    )
    cautions = len(pattern.findings) - len(pattern.stops)
    yield f"checked  stops: {len(pattern.stops)}, cautions: {cautions}"
    hand_in(pattern, acting=seat.student)
    pattern.refresh_from_db()
    approve_pattern(pattern, acting=teacher, place_now=False)
    plan = place_here([Project.objects.get(pk=project.pk)], acting=teacher)
    approve_plan(plan, acting=teacher)


def _tell_of(plan: CutPlan) -> Iterator[str]:
    assert plan.laid is not None
    measures = plan.laid.measures
    yield (
        f"placed   on {', '.join(plan.touched_codes)} ({plan.metal}): "
        f"{format_area(measures.consumed_mm2)} used up, "
        f"{format_area(measures.kept_mm2)} back to the rack, "
        f"{format_length(measures.saw_line_mm)} to saw"
    )
    for quote in plan.quotes.order_by("pk"):
        yield (
            f"priced   {quote.total} {plan.course.school.currency} for {quote.project.student}, "
            f"allowance {quote.allowance}"
        )
