"""Two layouts of the same pieces: which is better, and in what, told only where it is something."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from shapely.geometry import box

from studio.core.cutting import Hands, Job, Wanted
from studio.core.cutting.job import Measures
from studio.core.laying_out.beside import Laid, beside, for_two_mm
from studio.core.verifying import measure
from tests.core.placing.jobs import at, sheet

FIGURES = Measures(
    consumed_mm2=2000.0,
    largest_rectangle_mm=(152.0, 62.0),
    saw_line_mm=300.0,
    free_edge_mm=60.0,
    cost=2.0,
)
LAID = Laid(FIGURES, placed=4, wanted=4, for_two_mm=40.0, price=Decimal("3.10"))


def but(**other: Any) -> Laid:
    return replace(LAID, measures=replace(FIGURES, **other))


def test_two_alike_have_nothing_to_tell_and_neither_is_better() -> None:
    found = beside(LAID, but(saw_line_mm=303.0, consumed_mm2=2010.0, cost=2.0004))
    assert (found.facts, found.better, found.beaten) == ((), "", False)


@pytest.mark.parametrize(
    ("other", "code", "better", "by"),
    [
        ({"consumed_mm2": 2300.0}, "metal", "own", 300.0),
        ({"consumed_mm2": 1800.0}, "metal", "server", 200.0),
        ({"saw_line_mm": 240.0}, "sawing", "server", 60.0),
        ({"free_edge_mm": 20.0}, "free", "own", 40.0),
    ],
)
def test_each_difference_is_told_once_with_its_amount(
    other: dict[str, float], code: str, better: str, by: float
) -> None:
    (fact,) = beside(LAID, but(**other)).facts
    assert (fact.code, fact.better, fact.by) == (code, better, by)


def test_what_one_cut_frees_for_two_is_told_wherever_it_runs() -> None:
    (fact,) = beside(LAID, replace(LAID, for_two_mm=70.0)).facts
    assert (fact.code, fact.better, fact.by) == ("shared", "server", 30.0)


@pytest.mark.parametrize("apart", [0.5, 1.0, 1.4])
def test_a_shared_line_and_a_cut_down_the_middle_both_free_two_pieces(apart: float) -> None:
    """Two squares of 20 mm in the middle of a sheet face each other along one side."""
    job = Job(
        (sheet(),), (Wanted("square", box(0, 0, 20, 20), 2),), hands=Hands(min(apart, 1.0), 0.5)
    )
    laid = [at("square", 0, 40, 40), at("square", 1, 60 + apart, 40)]
    measures, _ = measure(job, laid)
    assert for_two_mm(job, laid, measures) == pytest.approx(20.0)
    far = [laid[0], at("square", 1, 62, 40)]
    assert for_two_mm(job, far, measure(job, far)[0]) == pytest.approx(0.0)


def test_the_strip_is_told_by_both_rectangles_the_better_one_first() -> None:
    (fact,) = beside(but(largest_rectangle_mm=(41.0, 152.0)), LAID).facts
    assert (fact.code, fact.better) == ("strip", "server")
    assert (fact.better_mm, fact.other_mm) == ((152.0, 62.0), (152.0, 41.0))
    (fact,) = beside(LAID, but(largest_rectangle_mm=(0.0, 0.0))).facts
    assert (fact.better, fact.other_mm) == ("own", (0.0, 0.0))


def test_money_is_told_in_whole_cents_from_five_on() -> None:
    (fact,) = beside(LAID, replace(LAID, price=Decimal("3.40"))).facts
    assert (fact.code, fact.better, fact.by) == ("price", "own", Decimal("0.30"))
    assert beside(LAID, replace(LAID, price=Decimal("3.13"))).facts == ()
    assert beside(LAID, replace(LAID, price=None)).facts == ()


def test_the_server_is_beaten_by_a_whole_layout_without_fault_that_costs_less() -> None:
    assert beside(but(cost=1.9), LAID).beaten
    assert beside(LAID, but(cost=1.9)).better == "server"
    assert not beside(replace(but(cost=1.0), faults=1), LAID).beaten
    assert not beside(replace(but(cost=1.0), placed=3), LAID).beaten
    assert beside(but(cost=5.0), replace(LAID, placed=3)).beaten


def test_with_fewer_pieces_laid_only_that_is_told() -> None:
    found = beside(replace(but(saw_line_mm=100.0), placed=2), LAID)
    assert [(fact.code, fact.better, fact.by) for fact in found.facts] == [("placed", "server", 2)]
    assert beside(replace(LAID, placed=2), replace(LAID, placed=3)).better == ""


def test_faults_are_told_whatever_else_speaks_for_it() -> None:
    found = beside(replace(but(cost=1.0), faults=2), LAID)
    assert [(fact.code, fact.by) for fact in found.facts] == [("faults", 2)]
    assert found.better == "server"
