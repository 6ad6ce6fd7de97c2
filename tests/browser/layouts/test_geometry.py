"""The layout table's geometry in the browser says what the judge says, and finds good places."""

from __future__ import annotations

import math
import os
from typing import Any

import pytest
from playwright.sync_api import Browser

from studio.core.verifying import Fault
from tests.browser.patterns.modules_alone import page_beside_modules

from .jobs import JOBS
from .random_moves import NEARNESS, Judged, Neighbours, judged

pytestmark = pytest.mark.browser

DRAGS = int(os.environ.get("BENCHLEDGER_DRAGS", "42"))
"""In each job, eight moves and eight places tried in each."""
NEAR_LIMIT_MM = 0.01


def differs(one: Judged) -> bool:
    """Whether the browser and the judge say otherwise, but for what is just at a limit."""
    told = {(NEARNESS[f["kind"]], f["piece"], f["copy"]): f for f in one.told if "of" not in f}
    found = {}
    for fault in one.faults:
        mine = (fault.piece, fault.copy) == (one.place.piece, one.place.copy)
        other = (fault.other, fault.other_copy) if mine else (fault.piece, fault.copy)
        found[fault.code, *other] = fault
    return any(_apart(told.get(key), found.get(key)) > NEAR_LIMIT_MM for key in {*told, *found})


def _apart(told: dict[str, Any] | None, found: Fault | None) -> float:
    """By how many millimetres two sayings differ, one of which may be that all is well."""
    if found is None:
        assert told is not None
        if told["limit"] is None:
            return math.dist(told["at"], told["to"])
        return float(told["limit"] - told["value"])
    if told is None:
        return math.inf if found.limit_mm is None else found.limit_mm - (found.value_mm or 0.0)
    if found.limit_mm is None:
        return 0.0
    return abs(float(told["value"]) - (found.value_mm or 0.0)) + abs(
        float(told["limit"]) - found.limit_mm
    )


def left(one: Judged) -> set[Neighbours]:
    """Neighbours that the browser says lie well no longer."""
    told = [
        ((f["piece"], f["copy"]), (f["of"]["piece"], f["of"]["copy"]))
        for f in one.told
        if "of" in f
    ]
    return {frozenset({*both} - {(None, None)}) for both in told}


def test_random_moves_come_to_what_the_judge_calls_good(chromium: Browser) -> None:
    with page_beside_modules(chromium) as page:
        places = list(judged(page, JOBS, 11, DRAGS))
    moved = [one for one in places if not one.tried]
    assert [one for one in moved if one.faults and not one.told] == []
    assert [one for one in places if one.broken != left(one)] == []
    other = [one for one in places if differs(one)]
    assert other == []
    assert sum(not one.told for one in moved) > 0.7 * len(moved)
    kinds = {snap["kind"] for one in moved for snap in one.snaps}
    assert kinds == {"edge", "shared", "corner", "gap"}
