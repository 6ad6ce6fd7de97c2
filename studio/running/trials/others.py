"""What something else would change: a straightened side, another turn, another metal.

One of them at a time, each after whatever first layouts wait. What makes no difference that
anybody would notice is not told.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

from classroom.refusals import Refused
from studio.core.confining import Ended
from studio.core.correcting import corrected
from studio.core.cutting import Job, job_from_json, plan_from_json
from studio.core.cutting.strictly import JobError
from studio.core.mending import is_quick, mends
from studio.core.mending.mend import STRAIGHT
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.placing.apart import Died, Fault
from studio.core.reading import assemble
from studio.core.verifying.sides import sides_of
from studio.models import Pattern, TrialLayout
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.trial import Asked, asked_of, on_the_rack, with_outlines

from .doing import FIRST, price_of_trial, queue_what_would_change, searched

logger = logging.getLogger(__name__)

LEAST_MM2 = 25.0
LEAST_MM = 10.0
LEAST_MONEY = Decimal("0.05")
"""Less metal, sawing and money than this is nothing to speak of."""
MOST_METALS = 2
UPRIGHT = (0.0, 90.0, 180.0, 270.0)

Told = dict[str, Any]


def run(trial_pk: int, worker: str) -> bool:
    """Answer the next question that is open; True when there was one."""
    trial = lease.claim_others(trial_pk, worker)
    if trial is None:
        return False
    todo = list(trial.others.get("todo", []))
    if trial.pattern is None or not todo:
        lease.let_go_of_others(trial_pk, worker)
        return False
    told: list[Told] = []
    try:
        told = QUESTIONS[todo[0]](trial)
    except Ended:
        if lease.let_go_of_others(trial_pk, worker):
            queue_what_would_change(trial_pk)  # for the next worker
        return False
    except (Refused, JobError, Died, Fault) as error:
        logger.warning("trial %s: %s is not answered (%s)", trial_pk, todo[0], error)
    others = trial.others | {"todo": todo[1:], "told": [*trial.others.get("told", []), *told]}
    if lease.let_go_of_others(trial_pk, worker, others=others) and todo[1:]:
        queue_what_would_change(trial_pk)
    return True


def straighter_side(trial: TrialLayout) -> list[Told]:
    """The longest side that is nearly straight, made straight by the pattern's own neatening.

    Where no piece has a straight side long enough to lie on an edge, that is told instead.
    """
    pattern = _pattern(trial)
    job = job_from_json(trial.job)
    for_hands = job.hands.straight_min_mm if job.hands else 0.0
    tracing = pattern.traced
    if is_quick(tracing):
        limits = pattern.project.brief.limits
        for mend in mends(tracing, pattern.relabels, limits):
            if mend.code != STRAIGHT:
                continue
            drawing = assemble(corrected(tracing, list(mend.changes)), pattern.relabels).drawing
            other = with_outlines(trial.job or {}, pattern, drawing.pieces)
            told = _changed(trial, job_from_json(other))
            return [{"kind": "side", "moved_mm": mend.moved_mm} | told] if told else []
    if for_hands and not any(_has_side(job, wanted.id) for wanted in job.pieces):
        return [{"kind": "no-side", "least_mm": for_hands}]
    return []


def another_turn(trial: TrialLayout) -> list[Told]:
    """Against the grain as drawn: a quarter turn. Else mirrored where that is not allowed yet.

    Where pieces may lie in any way already, what it is worth that they need not lie as drawn.
    """
    job = job_from_json(trial.job)
    if any(one.grain_deg is not None for one in job.pieces):
        pieces = [
            replace(one, grain_deg=((one.grain_deg or 0.0) + 90.0) % 180.0) for one in job.pieces
        ]
        kind = "quarter"
    elif not all(one.may_mirror for one in job.pieces):
        pieces = [replace(one, may_mirror=True) for one in job.pieces]
        kind = "mirror"
    else:
        pieces = [replace(one, may_mirror=False, turns_deg=UPRIGHT) for one in job.pieces]
        kind = "upright"
    told = _changed(trial, replace(job, pieces=tuple(pieces)))
    if not told or (kind == "mirror" and told["mm2"] >= 0):
        return []  # what is allowed besides cannot be worse: the search only found less
    return [{"kind": kind} | told]


def another_metal(trial: TrialLayout) -> list[Told]:
    """Each other metal of the brief that the rack has."""
    pattern = _pattern(trial)
    own = trial.others.get("metal")
    allowed = on_the_rack(pattern.project.brief.metals.all())
    found = []
    for metal in [one for one in allowed if one.pk != own][:MOST_METALS]:
        try:
            asked: Asked = asked_of(pattern, metal)
        except Refused:
            continue
        told = _changed(trial, job_from_json(asked.job))
        if told:
            found.append({"kind": "metal", "metal": metal.pk} | told)
    return found


QUESTIONS: dict[str, Callable[[TrialLayout], list[Told]]] = {
    "side": straighter_side,
    "turn": another_turn,
    "metal": another_metal,
}


def _changed(trial: TrialLayout, job: Job) -> Told | None:
    """By how much metal (mm²), sawing (mm) and money it would be more; None for hardly any."""
    assert trial.answer is not None
    before = plan_from_json(trial.answer)
    after = with_rack_offcuts(job, searched(job, FIRST))
    if len(after.unplaced) > len(before.unplaced):
        return None
    price = price_of_trial(trial, job, after)
    area = after.measures.consumed_mm2 - before.measures.consumed_mm2
    sawn = after.measures.saw_line_mm - before.measures.saw_line_mm
    money = price - Decimal(trial.others["price"])
    if abs(area) < LEAST_MM2 and abs(sawn) < LEAST_MM and abs(money) < LEAST_MONEY:
        return None
    return {"mm2": round(area, 2), "mm": round(sawn, 2), "money": str(money)}


def _has_side(job: Job, piece: str) -> bool:
    assert job.hands is not None
    return len(sides_of(job.wanted_by_id[piece].outline, job.hands.straight_min_mm).runs) > 0


def _pattern(trial: TrialLayout) -> Pattern:
    assert trial.pattern is not None
    return trial.pattern
