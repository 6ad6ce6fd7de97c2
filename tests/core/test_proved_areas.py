"""A stored plan's areas are proved from its outlines, whatever its figures say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from shapely.geometry import box

from studio.core.cutting import Job, Placement, Plan, Stock, Wanted
from studio.core.cutting.job import Offcut
from studio.core.offcuts.proving import area_faults
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.verifying import measure

JOB = Job(
    metal=(Stock("S1", box(0, 0, 130, 100), 0.0003), Stock("S2", box(0, 0, 90, 90), 0.0003)),
    pieces=(Wanted("tag", box(0, 0, 40, 20), count=3),),
    kerf_mm=0.3,
)


def _plan() -> Plan:
    laid = tuple(Placement("tag", n, "S1", False, 0.0, 45.0 * n, 30.0) for n in range(3))
    figures, offcuts = measure(JOB, laid)
    return with_rack_offcuts(JOB, Plan(laid, (), figures, offcuts, 1, 0.0, 0))


def test_a_plan_as_the_judge_measured_it_has_no_fault() -> None:
    plan = _plan()
    assert len(plan.offcuts) == 2
    assert list(area_faults(JOB, plan)) == []


def _told(plan: Plan) -> Plan:
    return replace(plan, measures=replace(plan.measures, kept_mm2=plan.measures.kept_mm2 - 40))


def _twice(plan: Plan) -> Plan:
    return replace(plan, offcuts=(*plan.offcuts, plan.offcuts[-1]))


def _over_pieces(plan: Plan) -> Plan:
    """What a union leaves that has lost a piece."""
    return replace(plan, offcuts=(Offcut("S1", box(0, 30, 130, 100), 1.0), *plan.offcuts[1:]))


def _beside(plan: Plan) -> Plan:
    return replace(plan, offcuts=(*plan.offcuts, Offcut("S1", box(130, 0, 140, 10), 1.0)))


def _moved(plan: Plan) -> Plan:
    return replace(plan, placements=(*plan.placements[:2], replace(plan.placements[2], x_mm=120.0)))


def _pushed(plan: Plan) -> Plan:
    return replace(plan, placements=(*plan.placements[:2], replace(plan.placements[2], x_mm=60.0)))


def _lost(plan: Plan) -> Plan:
    """What a difference leaves that has lost a part."""
    return replace(plan, offcuts=plan.offcuts[:1])


def _elsewhere(plan: Plan) -> Plan:
    return replace(plan, offcuts=(*plan.offcuts, Offcut("S2", box(0, 0, 50, 50), 1.0)))


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (_told, "its offcuts are "),
        (_twice, "its offcuts lie over each other: "),
        (_over_pieces, "on S1 pieces and offcuts lie over each other: 2,400.00 mm²"),
        (_beside, "on S1 an offcut lies beside the metal: 100.00 mm²"),
        (_moved, "on S1 a piece lies beside the metal: 600.00 mm²"),
        (_pushed, "on S1 its pieces lie over each other: 500.00 mm²"),
        (_lost, "mm² are scrap that could have been kept"),
        (_elsewhere, "it keeps offcuts of S2, where nothing is laid"),
    ],
)
def test_each_wrong_area_is_named(damage: Callable[[Plan], Plan], words: str) -> None:
    assert words in "\n".join(area_faults(JOB, damage(_plan())))
