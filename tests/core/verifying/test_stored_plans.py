"""Plans of versions 1 and 1.1 are judged and measured as on the day they were stored.

What a class was told, quoted and charged rests on these figures, so they are compared to the last
digit. `stored_plans.json` was written once, by the judge that knew no other versions; an entry
without a job has that of the entry before, with its pieces pushed out of place.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from studio.core.cutting import Placement, job_from_json
from studio.core.cutting.job import to_wkt
from studio.core.verifying import faults, measure

STORED: list[dict[str, Any]] = json.loads(
    Path(__file__).with_name("stored_plans.json").read_text(encoding="utf-8")
)
for before, entry in pairwise(STORED):
    entry["job"] = entry["job"] or before["job"]


@pytest.mark.parametrize("stored", STORED, ids=[entry["name"] for entry in STORED])
def test_a_stored_plan_is_judged_as_it_was_to_the_last_digit(stored: dict[str, Any]) -> None:
    job = job_from_json(stored["job"])
    laid = [Placement(*entry) for entry in stored["placements"]]
    found = [[f.code, f.message, f.piece, f.copy] for f in faults(job, laid)]
    assert found == stored["faults"]
    figures, offcuts = measure(job, laid)
    then = stored["measures"]
    then["largest_rectangle_mm"] = tuple(then["largest_rectangle_mm"])
    assert {name: getattr(figures, name) for name in then} == then
    assert [[o.metal, o.worth, to_wkt(o.outline)] for o in offcuts] == stored["offcuts"]


def test_the_stored_plans_show_every_kind_of_fault_that_placements_can_have() -> None:
    codes = {code for entry in STORED for code, *_ in entry["faults"]}
    assert codes >= {
        *("too-near-piece", "too-near-edge", "outside-metal", "mirror-not-allowed"),
        *("turn-not-allowed", "against-the-grain", "placed-twice"),
    }
