"""A placing has come to an end: its plan is proposed to the teacher, with frozen prices."""

from __future__ import annotations

from typing import Any

from classroom.models import record
from studio.core.cutting import plan_from_json, plan_to_json
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.placing import ENGINE_VERSION
from studio.models import CutPlan

from .quote import make_quotes
from .ways.ask import ask_ways


def propose_answer(
    plan: CutPlan,
    answer: dict[str, Any],
    *,
    laid_by: str = ENGINE_VERSION,
    is_new: bool = True,
) -> bool:
    """The judged answer becomes the proposed plan, with its offcuts as the rack gets them and
    its frozen prices. `laid_by` is the engine's version, or who else laid it; where the answer is
    not new, whoever brings it says so, and looks after its other ways."""
    answer = plan_to_json(with_rack_offcuts(plan.asked, plan_from_json(answer)))
    swapped = CutPlan.objects.filter(pk=plan.pk, state=CutPlan.State.PLACING).update(
        state=CutPlan.State.PROPOSED, answer=answer, engine_version=laid_by
    )
    if not swapped:
        return False
    plan.refresh_from_db()
    make_quotes(plan)
    if not is_new:
        return True
    ask_ways(plan)
    left = len(answer["unplaced"])
    record(
        None,
        "placed",
        plan,
        f"placed the pieces{f', but {left} found no place' if left else ''}",
        school=plan.course.school,
    )
    return True
