"""`manage.py judge_plan`: faults and measures of anybody's plan, or one line that says why not.

The form stands in studio/core/cutting/README.md, "Command-line seams".
"""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from studio.core.cutting import job_from_json
from studio.core.verifying import faults, measure
from tests.core.placing.jobs import at

JOB: dict[str, Any] = {
    "version": 1.2,
    "gap_mm": 1.0,
    "shared_mm": 0.5,
    "metal": [
        {"id": "S1", "outline": "POLYGON ((0 0, 100 0, 100 60, 0 60, 0 0))", "price_per_mm2": 0.001}
    ],
    "pieces": [{"id": "a", "outline": "POLYGON ((0 0, 20 0, 20 20, 0 20, 0 0))", "count": 3}],
}


def lying(number: int, x: float, **more: object) -> dict[str, Any]:
    return {"piece": "a", "copy": number, "metal": "S1", "x_mm": x, "y_mm": 0.0} | more


def run(tmp_path: Path, job: object, plan: object, *options: str) -> tuple[int, Any, str]:
    """The exit status, what was printed, and the line on standard error."""
    files = []
    for name, data in (("job", job), ("plan", plan)):
        file = tmp_path / f"{name}.json"
        file.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
        files.append(str(file))
    out, status, message = StringIO(), 0, ""
    try:
        call_command("judge_plan", *files, *options, stdout=out)
    except CommandError as wrong:
        status, message = wrong.returncode, str(wrong)
    return status, json.loads(out.getvalue()) if out.getvalue() else None, message


def test_a_plan_without_fault_is_measured(tmp_path: Path) -> None:
    laid = [lying(copy, 21.0 * copy) for copy in range(3)]
    status, answer, _ = run(tmp_path, JOB, {"placements": laid})
    assert (status, answer["version"], answer["faults"]) == (0, 1.2, [])
    figures, _ = measure(job_from_json(JOB), [at("a", k, 21.0 * k, 0) for k in range(3)])
    assert answer["measures"]["saw_line_mm"] == round(figures.saw_line_mm, 4) == 120.0
    assert answer["measures"]["cost"] == round(figures.cost, 6)


def test_a_half_made_plan_is_measured_and_says_what_is_missing(tmp_path: Path) -> None:
    status, answer, message = run(tmp_path, JOB, {"placements": [lying(0, 0.0)]})
    assert status == 1
    assert "2 of 3 have no place" in message
    assert answer["faults"] == [
        {
            "code": "missing",
            "message": "2 of 3 have no place",
            "piece": "a",
            "copy": 1,
            "other": None,
            "other_copy": None,
            "at": None,
            "value_mm": None,
            "limit_mm": None,
        }
    ]
    assert answer["measures"]["piece_area_mm2"] == 400.0


def test_pieces_too_near_are_told_with_place_and_figures(tmp_path: Path) -> None:
    laid = [lying(0, 0.0), lying(1, 20.8), lying(2, 60.0)]
    status, answer, _ = run(tmp_path, JOB, {"version": 1.2, "placements": laid})
    assert status == 1
    (fault,) = answer["faults"]
    assert (fault["code"], fault["piece"], fault["other"]) == ("too-near-piece", "a", "a")
    assert (fault["value_mm"], fault["limit_mm"]) == (0.8, 1.0)
    assert fault["at"][0] == 20.4


def test_what_the_judge_cannot_know_is_a_fault_and_not_measured(tmp_path: Path) -> None:
    laid = [lying(0, 0.0), lying(1, 21.0, metal="S7"), lying(7, 42.0), lying(0, 70.0, piece="b")]
    status, answer, _ = run(tmp_path, JOB, {"placements": laid})
    assert status == 1
    codes = [fault["code"] for fault in answer["faults"]]
    assert codes == ["unknown-metal", "unknown-copy", "unknown-piece", "missing"]
    assert answer["measures"]["piece_area_mm2"] == 800.0


@pytest.mark.parametrize("version", [1, 1.1])
def test_plans_of_the_older_versions_are_judged_by_their_rules(
    tmp_path: Path, version: float
) -> None:
    job = {"version": version, "metal": JOB["metal"], "pieces": JOB["pieces"]}
    laid = [lying(copy, 20.3 * copy) for copy in range(3)]
    status, answer, _ = run(tmp_path, job, {"version": 1, "placements": laid, "seed": 3})
    assert (status, answer["measures"]["shared_line_mm"]) == (0, 40.0)
    assert faults(job_from_json(JOB), [at("a", k, 20.3 * k, 0) for k in range(3)]) != ()


def test_what_a_plan_says_of_itself_is_passed_over(tmp_path: Path) -> None:
    own = {
        "status": "complete",
        "measures": {"cost": -5},
        "offcuts": "none",
        "seconds": None,
        "note": "x",
    }
    laid = [lying(copy, 21.0 * copy) for copy in range(3)]
    assert run(tmp_path, JOB, {"placements": laid, **own})[0] == 0


FAR_OFF: dict[str, tuple[str, str]] = {
    "10 km off": ("1e7", "outside-metal"),
    "a thousand times as far": ("-1e300", "outside-metal"),
    "no number": ("NaN", "not-a-number"),
    "endless": ("-Infinity", "not-a-number"),
    "too large for any number": ("9" * 400, "not-a-number"),
}


@pytest.mark.parametrize("name", FAR_OFF)
def test_a_piece_where_none_can_lie_is_a_fault_of_the_plan(tmp_path: Path, name: str) -> None:
    number, code = FAR_OFF[name]
    laid = [lying(0, 0.0), lying(1, 21.0), lying(2, 42.0) | {"x_mm": "?"}]
    text = json.dumps({"placements": laid}).replace('"?"', number)
    status, answer, _ = run(tmp_path, JOB, text)
    assert status == 1
    assert [(fault["code"], fault["copy"]) for fault in answer["faults"]] == [(code, 2)]


@pytest.mark.parametrize("number", ["1e300", "1e7", "NaN", "-Infinity"])
@pytest.mark.parametrize("field", ["turn_deg", "y_mm"])
def test_whatever_the_numbers_the_answer_holds_only_numbers(
    tmp_path: Path, field: str, number: str
) -> None:
    laid = [lying(0, 0.0) | {field: "?"}, lying(1, 21.0)]
    text = json.dumps({"placements": laid}).replace('"?"', number)
    status, answer, _ = run(tmp_path, JOB, text)
    assert status == 1
    json.dumps(answer, allow_nan=False)


def test_a_name_with_a_line_break_leaves_the_message_in_one_line(tmp_path: Path) -> None:
    laid = [lying(0, 0.0, piece="a\nb")]
    status, answer, message = run(tmp_path, JOB, {"placements": laid})
    assert (status, answer["faults"][0]["piece"]) == (1, "a\nb")
    assert 'no piece "a b"' in message
    assert "\n" not in message


def test_the_judgement_can_be_written_to_a_file(tmp_path: Path) -> None:
    out = tmp_path / "judgement.json"
    status, answer, _ = run(tmp_path, JOB, {"placements": []}, "--out", str(out))
    assert (status, answer) == (1, None)
    assert json.loads(out.read_text())["faults"][0]["code"] == "missing"
    status, _, message = run(tmp_path, JOB, {"placements": []}, "--out", str(tmp_path))
    assert (status, "cannot be written" in message) == (2, True)


UNUSABLE: dict[str, tuple[object, str]] = {
    "not JSON": ("{", "not JSON"),
    "a list": ([], "plan: an object"),
    "no placements": ({}, "placements: a list"),
    "placements in words": ({"placements": "all"}, "placements: a list"),
    "version 3": ({"version": 3, "placements": []}, "version"),
    "a version of true": ({"version": True, "placements": []}, "version"),
    "a version in words": ({"version": "1.2", "placements": []}, "version"),
    "a version that is a list": ({"version": [1], "placements": []}, "version"),
    "a placement in words": ({"placements": ["a"]}, "placements[0]"),
    "a placement of no piece": ({"placements": [{"metal": "S1"}]}, "placements[0].piece"),
    "a copy of half": ({"placements": [lying(0, 0.0, copy=0.5)]}, "placements[0].copy"),
    "an endless copy": ({"placements": [lying(0, 0.0, copy=10**30)]}, "placements[0].copy"),
    "a shift in words": ({"placements": [lying(0, 0.0) | {"x_mm": "far"}]}, "placements[0].x_mm"),
    "a mirror in words": ({"placements": [lying(0, 0.0, mirror="yes")]}, "placements[0].mirror"),
    "more pieces than any job": ({"placements": [lying(0, 0.0)] * 3001}, "3000 is the most"),
    "a heap": ({"placements": [lying(k, 0.0) for k in range(600)]}, "lie over each other"),
}


@pytest.mark.parametrize("name", UNUSABLE)
def test_an_unusable_plan_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    plan, words = UNUSABLE[name]
    status, answer, message = run(tmp_path, JOB, plan)
    assert (status, answer) == (2, None)
    assert words in message
    assert "\n" not in message


def test_an_unusable_job_is_refused_with_its_name(tmp_path: Path) -> None:
    status, _, message = run(tmp_path, {**JOB, "kerf_mm": "thin"}, {"placements": []})
    assert status == 2
    assert "job.json: kerf_mm" in message
    with pytest.raises(CommandError, match="standard input"):
        call_command("judge_plan", "-", "-")


PARTED = JOB | {
    "parting": "saw",
    "throat_mm": 29.0,
    "pieces": [piece | {"id": name, "group": name} for piece in JOB["pieces"] for name in "ab"],
}


def cut_at(x: float) -> dict[str, Any]:
    return {"metal": "S1", "part": 0, "from": [x, 0], "to": [x, 60]}


def two_and_two(*cuts: dict[str, Any]) -> dict[str, Any]:
    """Two of each on the sheet of 100 by 60, a third is missing of both."""
    laid = [lying(copy, x) for copy, x in enumerate((0.0, 21.0))]
    laid += [lying(copy, x, piece="b") for copy, x in enumerate((59.0, 80.0))]
    return {"version": 1.2, "placements": laid, "cuts": list(cuts)}


def test_the_cuts_of_a_plan_are_judged_and_measured(tmp_path: Path) -> None:
    """Up the middle of metal 60 mm high the frame reaches 30 mm in, and it has 29."""
    status, answer, _ = run(tmp_path, PARTED, two_and_two(cut_at(50)))
    assert status == 1
    reach, *others = answer["faults"]
    assert (reach["code"], reach["metal"], reach["cut"]) == ("out-of-reach", "S1", 0)
    assert (reach["piece"], reach["copy"], reach["part"]) == (None, None, 0)
    assert (reach["value_mm"], reach["limit_mm"], reach["at"]) == (30.0, 29.0, [50.0, 30.0])
    assert [fault["code"] for fault in others] == ["missing", "missing"]
    assert answer["measures"]["cut_line_mm"] == 0.0
    # four sides each, less five on edges, and between each two one cut of 20; the parting cut
    assert answer["measures"]["saw_line_mm"] == 320 - 60 - 60 - 2 * 20 + 60

    shear = {name: value for name, value in PARTED.items() if name != "throat_mm"}
    shear |= {"parting": "shear"}
    status, answer, _ = run(tmp_path, shear, two_and_two(cut_at(50)))
    assert [fault["code"] for fault in answer["faults"]] == ["missing", "missing"]
    assert answer["measures"]["cut_line_mm"] == 60.0
    assert answer["measures"]["saw_line_mm"] == 160.0


def test_faults_of_parting_name_pieces_cuts_and_parts(tmp_path: Path) -> None:
    _, answer, _ = run(tmp_path, PARTED, two_and_two())
    (fault,) = [each for each in answer["faults"] if each["code"] != "missing"]
    assert (fault["code"], fault["piece"], fault["other"]) == ("two-groups-in-part", "b", "a")
    assert (fault["metal"], fault["cut"], fault["part"]) == ("S1", None, 0)
    _, answer, _ = run(tmp_path, PARTED, two_and_two(cut_at(42.0)))
    told = [(each["code"], each["piece"], each["copy"]) for each in answer["faults"]]
    assert ("too-near-cut", "a", 1) in told
    _, answer, _ = run(tmp_path, PARTED, two_and_two(cut_at(30.0)))
    assert answer["faults"][1]["code"] == "cut-through-piece"


def test_without_parting_the_cuts_of_a_plan_are_passed_over(tmp_path: Path) -> None:
    laid = [lying(copy, 21.0 * copy) for copy in range(3)]
    plan = {"placements": laid, "cuts": [cut_at(10) | {"metal": "S7"}]}
    assert run(tmp_path, JOB, plan)[0] == 0


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        (cut_at(50) | {"part": -1}, "cuts[0].part"),
        (cut_at(50) | {"from": [0]}, "cuts[0].from"),
        (cut_at(50) | {"to": [0, "9"]}, "cuts[0].to"),
        (cut_at(50) | {"depth": 3}, "cuts[0]"),
    ],
)
def test_what_is_no_cut_is_refused(tmp_path: Path, cut: dict[str, Any], said: str) -> None:
    status, answer, message = run(tmp_path, PARTED, two_and_two(cut))
    assert (status, answer) == (2, None)
    assert said in message
