"""The step by which a stock piece is parted: made when the metal is handed out, in that day's
words and for the room's tool."""

from __future__ import annotations

from classroom.languages import LANGUAGES, SAY, in_language
from studio.core.bench.part_text import PartTool, part_step
from studio.core.bench.planned import PlannedBenchStep, wording_sha
from studio.core.bench.texts import StockStepKind
from studio.models import BenchSetup, CutPlan, PlanStock, StockStep
from studio.models.bench_words import Shear


def tool_of(plan: CutPlan) -> PartTool:
    """With what the plan's metal is parted, as the room has it now."""
    if plan.way == CutPlan.Way.SAWN:
        return PartTool.SAW
    setup = BenchSetup.objects.filter(school=plan.course.school_id).first()
    shear = setup.shear if setup is not None else Shear.NONE
    return PartTool.HAND if shear == Shear.NONE else PartTool(shear)


def make_part_step(plan: CutPlan, plan_stock: PlanStock) -> StockStep:
    """The step, made once; the tool is kept with its words, so that both stay as they were."""
    tool = tool_of(plan)
    metal = f"{plan_stock.stock_piece.code}, {plan.metal}"
    planned = part_step(tool, metal)
    others = {}
    for language in LANGUAGES:
        if language != "en":
            with in_language(language):
                others[language] = _with_sha(part_step(tool, metal, SAY))
    step, _made = StockStep.objects.get_or_create(
        plan_stock=plan_stock,
        kind=str(StockStepKind.PART),
        defaults={
            "number": 1,
            "title": planned.title,
            "wording": planned.to_json() | {"in": others, "tool": str(tool)},
            "wording_sha": wording_sha(planned),
            "permits": list(planned.permits),
            "wait_minutes": 0,
            "teacher_signs": False,
        },
    )
    return step


def tool_in(step: StockStep) -> PartTool:
    """The tool for which the step was made."""
    return PartTool(step.wording["tool"])


def _with_sha(planned: PlannedBenchStep) -> dict[str, object]:
    return planned.to_json() | {"sha": wording_sha(planned)}
