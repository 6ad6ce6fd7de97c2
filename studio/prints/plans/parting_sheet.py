"""The parting sheet: cut after cut, measured from corners, with a picture at each stage.

It names nobody: whose blank is which is said by letters, to teachers by names too.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import get_language, gettext, gettext_noop

from classroom.figures.units import Units, format_length
from classroom.models import School
from studio.core.bench.part_text import PartTool
from studio.core.cutting.groups import group_of
from studio.core.picturing.parting_stages import stages
from studio.core.picturing.plan import labels_of
from studio.models import BenchSetup, CutPlan, StockStep
from studio.prints.paper.sizes import MARGIN_SIDE_MM, paper_for
from studio.queries.plans import stock_touched_by
from studio.steps.sharing.parting.part_step import tool_in, tool_of
from studio.steps.sharing.parting.planned_parts import PlannedPart, planned_parts

from .parting_art import StageArt, stage_art

TEMPLATE = "studio/prints/plans/parting_sheet.html"
BETWEEN_MM = 6.0
PICTURE_HEIGHT_MM = 74.0

TOOLS = {
    PartTool.HAND: gettext_noop("bench shears, worked by hand"),
    PartTool.FOOT: gettext_noop("foot guillotine"),
    PartTool.POWER: gettext_noop("power-driven guillotine: the teacher alone"),
    PartTool.SAW: gettext_noop("saw frame; the blade runs in the middle of the line"),
}


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part that comes out: whose, and how large its upright box is."""

    number: int
    letter: str
    name: str
    is_blank: bool
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class MetalToPart:
    """One stock piece with its cuts and what comes out of it."""

    code: str
    width_mm: float
    height_mm: float
    tool: str
    reach: str
    cautions: list[str]
    stages: list[StageArt]
    parts: list[PartRow]
    done: bool


def parting_sheet_context(
    plan: CutPlan, *, school: School, names: bool, code: str = ""
) -> dict[str, Any]:
    """What the template needs, for all stock pieces that are to be parted or the one with `code`;
    `names` for the teacher's copy."""
    paper = paper_for(school.paper)
    width = (paper.width_mm - 2 * MARGIN_SIDE_MM - BETWEEN_MM) / 2.0
    return {
        "plan": plan,
        "metals": [
            one
            for one in metals_to_part(plan, school, names=names, picture_width_mm=width)
            if code in ("", one.code)
        ],
        "names": names,
    }


def metals_to_part(
    plan: CutPlan, school: School, *, names: bool, picture_width_mm: float
) -> list[MetalToPart]:
    """Every stock piece of the plan that is cut, in the order of its labels."""
    assert plan.laid is not None
    cut = {one.metal for one in plan.laid.cuts}
    steps = {
        step.plan_stock.stock_piece.code: step
        for step in StockStep.objects.filter(plan_stock__plan=plan, kind="part").select_related(
            "plan_stock__stock_piece"
        )
    }
    return [
        _metal(plan, piece.code, steps.get(piece.code), school, names, picture_width_mm)
        for piece in stock_touched_by(plan)
        if piece.code in cut
    ]


def _metal(
    plan: CutPlan,
    code: str,
    step: StockStep | None,
    school: School,
    names: bool,
    width_mm: float,
) -> MetalToPart:
    assert plan.laid is not None
    job, units = plan.asked, Units(school.units)
    letters = labels_of(job)
    x0, y0, x1, y1 = job.stock_by_id[code].outline.bounds
    tool = tool_in(step) if step is not None else tool_of(plan)
    words = step.words_in(get_language() or "en") if step is not None else {}
    return MetalToPart(
        code,
        x1 - x0,
        y1 - y0,
        gettext(TOOLS[tool]),
        _reach(plan, tool, units),
        list(words.get("cautions", ())),
        [
            stage_art(stage, letters, units, width_mm=width_mm, height_mm=PICTURE_HEIGHT_MM)
            for stage in stages(job, plan.laid, code)
        ],
        [_row(part, letters, names) for part in planned_parts(plan, code)],
        step is not None and step.done_at is not None,
    )


def _reach(plan: CutPlan, tool: PartTool, units: Units) -> str:
    """How long a cut the tool makes, or how deep it reaches; empty where nobody said."""
    setup = BenchSetup.objects.filter(school=plan.course.school_id).first()
    if tool is PartTool.SAW:
        parting = plan.asked.parting
        depth = parting.throat_mm if parting is not None else None
        text = gettext("no point of a cut lies deeper than %(length)s from the outline")
        return text % {"length": format_length(depth, units)} if depth else ""
    longest: Decimal | None = setup.shear_cut_mm if setup is not None else None
    text = gettext("longest cut %(length)s")
    return text % {"length": format_length(float(longest), units)} if longest else ""


def _row(part: PlannedPart, letters: dict[str, str], names: bool) -> PartRow:
    width, height = part.size_mm
    if part.share is None:
        return PartRow(part.number, "", gettext("back to the rack"), False, width, height)
    project = part.share.project
    name = str(project.student) if names else ""
    letter = letters[group_of(project.pk)]
    return PartRow(part.number, letter, name, True, width, height)
