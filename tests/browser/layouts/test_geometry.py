"""The layout table's geometry in the browser says what the judge says, and finds good places."""

from __future__ import annotations

import os

import pytest
from playwright.sync_api import Browser

from tests.browser.patterns.modules_alone import page_beside_modules

from .jobs import JOBS
from .random_moves import NEARNESS, Judged, judged

pytestmark = pytest.mark.browser

DRAGS = int(os.environ.get("BENCHLEDGER_DRAGS", "42"))
"""In each job, eight moves and eight places tried in each."""
NEAR_LIMIT_MM = 0.01


def differs(one: Judged) -> bool:
    """Whether the browser and the judge say otherwise, but for what is just at a limit."""
    told = {(NEARNESS[f["kind"]], f["piece"], f["copy"]): f for f in one.told}
    name, copy = one.place.piece, one.place.copy
    found = {}
    for fault in one.faults:
        mine = (fault.piece, fault.copy) == (name, copy)
        other = (fault.other, fault.other_copy) if mine else (fault.piece, fault.copy)
        found[fault.code, *other] = fault
    for key in {*told, *found}:
        a, b = told.get(key), found.get(key)
        value = [x for x in (a and a["value"], b and b.value_mm) if x is not None]
        limit = b.limit_mm if b else a["limit"]
        if a and b:
            if limit is not None and abs(a["value"] - (b.value_mm or 0.0)) > NEAR_LIMIT_MM:
                return True
        elif limit is None or not value or abs(value[0] - limit) > NEAR_LIMIT_MM:
            return True
    return False


def test_random_moves_come_to_what_the_judge_calls_good(chromium: Browser) -> None:
    with page_beside_modules(chromium) as page:
        places = list(judged(page, JOBS, 11, DRAGS))
    faulty = [one for one in places if not one.told and one.faults and not one.tried]
    assert faulty == []
    other = [one for one in places if differs(one)]
    assert other == []
    moved = [one for one in places if not one.tried]
    assert sum(not one.told for one in moved) > 0.7 * len(moved)
    kinds = {snap["kind"] for one in moved for snap in one.snaps}
    assert kinds == {"edge", "shared", "corner", "gap"}
