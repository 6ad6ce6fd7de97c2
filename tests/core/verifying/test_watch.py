"""Asked again after a move, the judge says what it would say of a layout never seen before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiLineString

from studio.core.cutting import Hands, Job, Placement, Wanted
from studio.core.verifying import Watch, faults, measurable, measure, missing
from tests.core.placing.jobs import at, class_job, sheet, square

OLD = replace(class_job(), edge_margin_mm=1.5, offcut_min_area_mm2=3000.0)
ROUGH = MultiLineString([[(0, 0), (0, 150), (305, 150)]])
NEW = replace(
    OLD,
    metal=(replace(OLD.metal[0], rough_edges=ROUGH), replace(OLD.metal[1], clean_edges=False)),
    hands=Hands(gap_mm=1.0, shared_mm=0.5),
    worth="two",
    fixed=(at("tag", 0, 100, 0), at("tag", 1, 100, 15.5)),
)


def strewn(job: Job, chance: np.random.Generator, copies: int) -> list[Placement]:
    laid = list(job.fixed)
    for wanted in job.pieces:
        for copy in range(2 if wanted.id == "tag" else 0, copies):
            laid.append(somewhere(wanted, copy, chance))
    return laid


def somewhere(wanted: Wanted, copy: int, chance: np.random.Generator) -> Placement:
    metal = "S1" if chance.random() < 0.7 else "O1"
    x, y = chance.uniform(0, 280), chance.uniform(0, 130)
    turn = float(chance.choice([0.0, 90.0, chance.uniform(0, 360)]))
    return Placement(wanted.id, copy, metal, bool(chance.random() < 0.2), turn, x, y)


@pytest.mark.parametrize("job", [OLD, NEW], ids=["version 1", "by hand"])
def test_after_every_move_the_answer_is_the_judges_own(job: Job) -> None:
    chance = np.random.default_rng(5)
    laid = strewn(job, chance, 3)
    watch = Watch(job)
    for _ in range(6):
        found = watch.judge(laid)
        assert found.faults == faults(job, laid)
        assert found.missing == missing(job, laid)
        assert (found.measures, found.offcuts) == measure(job, laid)
        k = int(chance.integers(0, len(laid)))
        pick = chance.random()
        if pick < 0.7:
            step = 25.0 * chance.uniform(-1, 1, 2)
            laid[k] = replace(laid[k], x_mm=laid[k].x_mm + step[0], y_mm=laid[k].y_mm + step[1])
        elif pick < 0.85:
            laid[k] = somewhere(job.wanted_by_id[laid[k].piece], laid[k].copy, chance)
        else:
            del laid[k]


def test_what_lies_nowhere_is_judged_and_not_measured() -> None:
    job = Job((sheet(),), (Wanted("a", square(20), 2),))
    laid = [at("a", 0, 0, 0), at("a", 1, float("nan"), 0), at("b", 0, 50, 0)]
    found = Watch(job).judge(laid)
    assert [fault.code for fault in found.faults] == ["not-a-number", "unknown-piece"]
    assert measurable(job, laid) == laid[:1]
    assert found.measures.piece_area_mm2 == 400.0
