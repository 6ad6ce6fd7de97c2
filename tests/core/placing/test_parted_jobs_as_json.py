"""Jobs that are to be parted, and plans that are, in the form of the command-line seam 1.2."""

from __future__ import annotations

from typing import Any

import pytest
from shapely.geometry import box

from studio.core.cutting import (
    Blank,
    Cut,
    JobError,
    Parting,
    Plan,
    job_from_json,
    job_to_json,
    layout_from_json,
    plan_from_json,
    plan_to_json,
)
from studio.core.cutting.job import Measures


def job(**more: Any) -> dict[str, Any]:
    return {
        "version": 1.2,
        "metal": [{"id": "S1", "outline": "POLYGON ((0 0, 90 0, 90 40, 0 40, 0 0))"}],
        "pieces": [{"id": "a", "outline": "POLYGON ((0 0, 9 0, 9 9, 0 9, 0 0))", "group": "g"}],
    } | more


@pytest.mark.parametrize(
    ("way", "margin", "least"), [("shear", 1.0, 15.0), ("saw", 2.0, 5.0)]
)  # the defaults are those of the seam's own table
def test_a_way_of_parting_brings_its_own_margins(way: str, margin: float, least: float) -> None:
    read = job_from_json(job(parting=way))
    assert read.parting == Parting(way, margin, least)  # type: ignore[arg-type]
    assert job_from_json(job_to_json(read)) == read


def test_bounds_of_shear_and_saw_frame_are_read() -> None:
    said = job(
        parting="shear", parting_margin_mm=1.5, strip_least_mm=20, cut_longest_mm=300, throat_mm=76
    )
    assert job_from_json(said).parting == Parting("shear", 1.5, 20.0, 300.0, 76.0)


def test_without_parting_nothing_of_it_binds_or_is_written() -> None:
    read = job_from_json(job(parting="none", throat_mm=76, parting_margin_mm=None))
    assert read.parting is None
    assert "parting" not in job_to_json(read)


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ({"parting": "tear"}, "parting"),
        ({"parting": ["saw"]}, "parting"),
        ({"parting": "saw", "parting_margin_mm": -1}, "parting_margin_mm"),
        ({"parting": "saw", "strip_least_mm": "5"}, "strip_least_mm"),
        ({"parting": "shear", "cut_longest_mm": float("nan")}, "cut_longest_mm"),
        ({"parting": "saw", "goal": "strip"}, "parting"),
        ({"version": 1.1, "parting": "saw"}, "job.parting"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(wrong: dict[str, Any], where: str) -> None:
    with pytest.raises(JobError) as refused:
        job_from_json(job(**wrong))
    assert refused.value.where == where


def test_a_parted_plan_comes_back_as_it_was_written() -> None:
    plan = Plan(
        placements=(),
        unplaced=(),
        measures=Measures(cut_line_mm=40.0),
        offcuts=(),
        seed=1,
        seconds=0.5,
        rounds=3,
        by_hand=True,
        cuts=(Cut("S1", 0, (30.0, 0.0), (30.0, 40.0)),),
        blanks=(Blank("S1", 1, "g", box(0, 0, 30, 40)), Blank("S1", 2, None, box(30, 0, 90, 40))),
    )
    written = plan_to_json(plan)
    assert written["cuts"] == [{"metal": "S1", "part": 0, "from": [30.0, 0.0], "to": [30.0, 40.0]}]
    assert written["measures"]["cut_line_mm"] == 40.0
    again = plan_from_json(written)
    assert again.cuts == plan.cuts
    assert [(one.part, one.group, one.outline.area) for one in again.blanks] == [
        (1, "g", 1200.0),
        (2, None, 2400.0),
    ]


@pytest.mark.parametrize(
    ("cut", "where"),
    [
        ({"metal": 7, "part": 0, "from": [0, 0], "to": [1, 1]}, "cuts[0].metal"),
        ({"metal": "S1", "part": True, "from": [0, 0], "to": [1, 1]}, "cuts[0].part"),
        ({"metal": "S1", "part": -1, "from": [0, 0], "to": [1, 1]}, "cuts[0].part"),
        ({"metal": "S1", "part": 0, "from": [0], "to": [1, 1]}, "cuts[0].from"),
        ({"metal": "S1", "part": 0, "from": [0, 0], "to": [1, 1e300]}, "cuts[0].to"),
        ({"metal": "S1", "part": 0, "from": [0, 0]}, "cuts[0].to"),
        ("a cut", "cuts[0]"),
    ],
)
def test_a_hostile_cut_is_refused_by_its_field(cut: object, where: str) -> None:
    with pytest.raises(JobError) as refused:
        layout_from_json({"version": 1.2, "placements": [], "cuts": [cut]})
    assert refused.value.where == where
