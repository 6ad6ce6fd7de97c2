"""`manage.py place_pieces`: the plan in its form, or one line that says what is wrong.

The form stands in studio/core/cutting/README.md, "Command-line seams".
"""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from shapely import wkt
from shapely.geometry import Point

from studio.core.cutting import job_from_json, plan_from_json, plan_to_json
from studio.core.placing import WITHOUT_COMPILING
from studio.core.verifying import faults, measure
from studio.management.commands import place_pieces
from tests.racing import race

JOB: dict[str, Any] = {
    "version": 1,
    "kerf_mm": 0.3,
    "metal": [
        {
            "id": "S1",
            "outline": "POLYGON ((0 0, 100 0, 100 60, 0 60, 0 0), "
            "(40 20, 60 20, 60 40, 40 40, 40 20))",
            "price_per_mm2": 0.0003,
        }
    ],
    "pieces": [
        {"id": "p1", "outline": "POLYGON ((0 0, 30 0, 30 20, 0 20, 0 0))", "count": 3},
        {"id": "p9", "outline": "POLYGON ((0 0, 200 0, 200 20, 0 20, 0 0))", "group": "seat-7"},
    ],
}


def run(tmp_path: Path, job: object, *options: str) -> Any:
    file = tmp_path / "job.json"
    file.write_text(job if isinstance(job, str) else json.dumps(job), encoding="utf-8")
    out = StringIO()
    call_command("place_pieces", str(file), "--rounds", "1", *options, stdout=out)
    return json.loads(out.getvalue()) if out.getvalue() else None


def test_the_plan_has_the_stated_form_and_the_judge_agrees(tmp_path: Path) -> None:
    plan = run(tmp_path, JOB)
    assert set(plan) == {
        *("version", "status", "placements", "unplaced", "measures", "offcuts"),
        *("seed", "seconds", "rounds"),
    }
    assert plan["version"] == 1
    assert plan["status"] == "partial"
    assert [entry["piece"] for entry in plan["unplaced"]] == ["p9"]
    assert "larger than any metal" in plan["unplaced"][0]["why"]
    job = job_from_json(JOB)
    read = plan_from_json(plan)
    assert plan_to_json(read) == plan
    assert faults(job, read.placements) == ()
    figures, offcuts = measure(job, read.placements)
    assert plan["measures"]["cost"] == pytest.approx(figures.cost, abs=1e-6)
    assert plan["measures"]["kept_mm2"] == pytest.approx(figures.kept_mm2, abs=1e-3)
    for entry, offcut in zip(plan["offcuts"], offcuts, strict=True):
        assert wkt.loads(entry["outline"]).area == pytest.approx(offcut.outline.area, abs=1e-2)


def test_so_many_rounds_are_made_however_busy_the_machine_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    race(monkeypatch)
    monkeypatch.setattr(place_pieces, "MAX_SECONDS", 1e9)
    rounds = WITHOUT_COMPILING + 3
    assert run(tmp_path, JOB, "--rounds", str(rounds))["rounds"] == rounds
    # whoever names seconds too has them kept
    cut = run(tmp_path, JOB, "--rounds", str(rounds), "--seconds", "0.001")
    assert cut["rounds"] == WITHOUT_COMPILING


def test_the_plan_can_be_written_to_a_file(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    assert run(tmp_path, JOB, "--out", str(out)) is None
    assert json.loads(out.read_text())["status"] == "partial"


def test_everything_but_metal_and_pieces_has_a_default() -> None:
    job = job_from_json({"metal": [], "pieces": []})
    assert (job.kerf_mm, job.saw_cost_per_mm, job.scrap_worth) == (0.3, 0.002, 0.1)
    assert (job.offcut_min_width_mm, job.offcut_min_area_mm2, job.goal) == (12.0, 600.0, "plan")


def changed(path: str, value: object) -> dict[str, Any]:
    """The job with one thing changed, the path written as metal.0.outline."""
    job = json.loads(json.dumps(JOB))
    at: Any = job
    *steps, last = (int(step) if step.isdigit() else step for step in path.split("."))
    for step in steps:
        at = at[step]
    at[last] = value
    return dict(job)


REFUSED = {
    "version 2": (changed("version", 2), "version"),
    "a kerf in words": (changed("kerf_mm", "thin"), "kerf_mm"),
    "a kerf below nothing": (changed("kerf_mm", -0.1), "kerf_mm"),
    "a kerf of true": (changed("kerf_mm", True), "kerf_mm"),
    "an unknown goal": (changed("goal", "best"), "goal"),
    "an unknown field": (changed("kerf", 0.2), "job.kerf"),
    "no metal list": (changed("metal", {}), "metal"),
    "metal that is a number": (changed("metal.0", 7), "metal[0]"),
    "an outline in words": (changed("metal.0.outline", "a sheet"), "metal[0].outline"),
    "an outline that is a line": (changed("pieces.0.outline", "LINESTRING (0 0, 1 1)"), "POLYGON"),
    "an empty outline": (changed("pieces.0.outline", "POLYGON EMPTY"), "empty"),
    "an outline that is not closed": (
        changed("pieces.0.outline", "POLYGON ((0 0, 9 0, 9 9))"),
        "pieces[0].outline",
    ),
    "a bow tie": (
        changed("pieces.0.outline", "POLYGON ((0 0, 9 9, 9 0, 0 9, 0 0))"),
        "Self-intersection",
    ),
    "a piece of no area": (
        changed("pieces.0.outline", "POLYGON ((0 0, 0.001 0, 0 0.001, 0 0))"),
        "hardly any area",
    ),
    "a coordinate that is no number": (
        changed("pieces.0.outline", "POLYGON ((0 0, 9 0, nan 9, 0 0))"),
        "pieces[0].outline",
    ),
    "a coordinate of 1e400": (
        changed("pieces.0.outline", "POLYGON ((0 0, 1e400 0, 9 9, 0 0))"),
        "pieces[0].outline",
    ),
    "a coordinate a kilometre away": (
        changed("metal.0.outline", "POLYGON ((0 0, 1000000 0, 9 9, 0 0))"),
        "coordinates",
    ),
    "a count of half": (changed("pieces.0.count", 1.5), "pieces[0].count"),
    "more vertices than can be judged": (
        changed("pieces.0", {"id": "w", "outline": Point(0, 0).buffer(9, 600).wkt, "count": 999}),
        "vertices in all copies",
    ),
    "a count of a million": (changed("pieces.0.count", 1_000_000), "pieces[0].count"),
    "a price below nothing": (changed("metal.0.price_per_mm2", -1), "metal[0].price_per_mm2"),
    "a price beyond all numbers": (changed("metal.0.price_per_mm2", 10**400), "price_per_mm2"),
    "turns that are no list": (changed("pieces.0.turns_deg", 90), "pieces[0].turns_deg"),
    "no turns at all": (changed("pieces.0.turns_deg", []), "pieces[0].turns_deg"),
    "a turn in words": (changed("pieces.0.turns_deg", ["up"]), "pieces[0].turns_deg[0]"),
    "an id that is a number": (changed("pieces.0.id", 1), "pieces[0].id"),
    "the same id twice": (changed("pieces.1.id", "p1"), '"p1" occurs twice'),
    "a mirror in words": (changed("pieces.0.may_mirror", "no"), "pieces[0].may_mirror"),
    "a list": ([1, 2], "job"),
    "no JSON": ("{pieces", "not JSON"),
    "NaN": ('{"kerf_mm": NaN, "metal": [], "pieces": []}', "kerf_mm"),
    "brackets without end": ("[" * 100_000, "nested"),
}


@pytest.mark.parametrize("field", ["fixed", "start"])
def test_a_strip_is_given_placements_on_its_first_metal_only(tmp_path: Path, field: str) -> None:
    sheets = [{"id": name, "outline": JOB["metal"][0]["outline"]} for name in ("S1", "S2")]
    squares = [{"id": "a", "outline": "POLYGON ((0 0, 9 0, 9 9, 0 9, 0 0))", "count": 2}]
    lies = {"piece": "a", "copy": 0, "metal": "S2", "x_mm": 1.0, "y_mm": 1.0}
    job = {"version": 1.2, "metal": sheets, "pieces": squares, field: [lies]}
    assert job_from_json(job | {"goal": "plan"})
    with pytest.raises(CommandError) as refused:
        run(tmp_path, job | {"goal": "strip"})
    assert refused.value.returncode == 2
    assert f"{field}[0].metal: a strip lies on the first metal, S1" in str(refused.value)


@pytest.mark.parametrize("name", REFUSED)
def test_an_unusable_job_is_refused_in_one_line_that_says_where(tmp_path: Path, name: str) -> None:
    job, where = REFUSED[name]
    with pytest.raises(CommandError) as refused:
        run(tmp_path, job)
    assert refused.value.returncode == 2
    assert where in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "options",
    [
        ("--seconds", "0"),
        ("--seconds", "nan"),
        ("--seconds", "1e9"),
        ("--workers", "0"),
        ("--seed", "9" * 30),
        ("--out", "/nowhere/at/all.json"),
    ],
)
def test_unusable_options_are_refused_in_one_line(tmp_path: Path, options: tuple[str, ...]) -> None:
    with pytest.raises(CommandError) as refused:
        run(tmp_path, JOB, *options)
    assert refused.value.returncode == 2


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", None])
def test_a_file_that_is_not_text_or_not_there_is_refused(
    tmp_path: Path, content: bytes | None
) -> None:
    file = tmp_path / "job.json"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(CommandError) as refused:
        call_command("place_pieces", str(file))
    assert refused.value.returncode == 2
