"""Parting cuts of a class plan on the layout table: changed by steps that can be undone."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.urls import reverse

from classroom.refusals import Refused
from studio.core.laying_out.parting import Line, Named
from studio.models import CutPlan, Layout, PlacingSettings
from studio.queries.layouts import layout_for
from studio.steps.layouts import change, parting, tries
from studio.steps.layouts.begin import begin_from_plan
from studio.steps.layouts.renew import renew_layout
from studio.steps.layouts.standing import what_no_longer_holds
from studio.steps.layouts.use import use_layout
from tests.people import Cast, signed_in
from tests.studio.plans import making

from .making import AS_LAID, parted_layout

pytestmark = pytest.mark.django_db

FIRST, SECOND = Named("CU-1", 0), Named("CU-1", 1)


@pytest.fixture
def one(cast: Cast) -> Layout:
    made = parted_layout(cast)
    return layout_for(cast.teacher, made.pk)


def newest(one: Layout) -> Layout:
    return Layout.objects.get(pk=one.pk)


def upright(x: float) -> Any:
    return lambda _job, _cuts: Line((x, 0.0), 90.0)


def test_a_layout_begun_from_a_plan_has_its_cuts(cast: Cast, one: Layout) -> None:
    assert one.cuts == AS_LAID
    assert tries.copy(one, acting=cast.teacher).cuts == AS_LAID
    assert what_no_longer_holds(one) == []


def test_cuts_move_and_everything_is_undone_and_done_again(cast: Cast, one: Layout) -> None:
    after = parting.lay_cut(one, FIRST, upright(56.0), acting=cast.teacher, seen=0)
    assert [(cut["from"][0], cut["to"][0]) for cut in after.cuts] == [(56.0, 56.0), (56.0, 0.0)]
    after = parting.remove_cut(after, SECOND, acting=cast.teacher, seen=1)
    after = parting.size_part(after, SECOND, 58.0, None, acting=cast.teacher, seen=2)
    assert [cut["from"] for cut in after.cuts] == [[58.0, 0.0]]
    done = newest(one).cuts
    for _step in range(3):
        after = change.undo(after, acting=cast.teacher)
    assert newest(one).cuts == AS_LAID
    for _step in range(3):
        after = change.redo(after, acting=cast.teacher)
    assert newest(one).cuts == done


def test_what_lies_beyond_goes_along_in_one_step(cast: Cast, one: Layout) -> None:
    before = {p["piece"]: p["x_mm"] for p in one.placements}
    parting.lay_cut(one, FIRST, upright(64.0), acting=cast.teacher, take_along=True)
    moved = {p["piece"]: round(p["x_mm"] - before[p["piece"]], 6) for p in newest(one).placements}
    assert sorted(moved.values()) == [0.0, 4.0]
    change.undo(newest(one), acting=cast.teacher)
    assert newest(one).cuts == AS_LAID
    assert {p["piece"]: p["x_mm"] for p in newest(one).placements} == before


def test_an_older_state_is_refused(cast: Cast, one: Layout) -> None:
    parting.remove_cut(one, SECOND, acting=cast.teacher, seen=0)
    with pytest.raises(Refused, match="changed meanwhile"):
        parting.remove_cut(one, FIRST, acting=cast.teacher, seen=0)


def test_a_layout_whose_metal_is_not_parted_has_no_cuts(cast: Cast) -> None:
    PlacingSettings.objects.create(school=cast.school, sharing="passed")
    whole = begin_from_plan(making.shared_plan(cast), acting=cast.teacher)
    with pytest.raises(Refused, match="not parted"):
        parting.add_cut(whole, Named("CU-1", 0), upright(60.0), acting=cast.teacher)
    page = signed_in(cast.teacher).get(reverse("layout", args=[whole.pk]))
    assert "data-parting" not in page.content.decode()
    assert page.context["state"]["parting"] is None


def test_the_layout_becomes_the_plan_with_its_cuts_and_blanks(cast: Cast, one: Layout) -> None:
    after = parting.lay_cut(one, FIRST, upright(58.0), acting=cast.teacher)
    made = use_layout(after, acting=cast.teacher)
    assert (made.way, made.state) == (CutPlan.Way.PARTED, CutPlan.State.PROPOSED)
    assert made.job["parting"] == "shear"
    assert made.laid is not None
    assert made.laid.cuts == after.parted
    assert {blank.part: blank.outline.bounds for blank in made.laid.blanks} == {
        3: (0.0, 0.0, 58.0, 50.0),
        2: (58.0, 0.0, 120.0, 90.0),
    }


def test_two_students_in_one_part_are_no_plan(cast: Cast, one: Layout) -> None:
    after = parting.remove_cut(one, SECOND, acting=cast.teacher)
    after = parting.remove_cut(after, FIRST, acting=cast.teacher)
    with pytest.raises(Refused, match="not right"):
        use_layout(after, acting=cast.teacher)


def test_renewed_it_is_parted_still(cast: Cast, one: Layout) -> None:
    Layout.objects.filter(pk=one.pk).update(job=one.job | {"kerf_mm": 0.9})
    renew_layout(newest(one), acting=cast.teacher)
    assert newest(one).asked.parting is not None
    assert newest(one).cuts == AS_LAID


def post(cast: Cast, one: Layout, **fields: Any) -> Any:
    address = reverse("layout_cuts", args=[one.pk])
    return signed_in(cast.teacher).post(address, fields, headers={"accept": "application/json"})


def test_the_page_tells_cuts_parts_and_what_is_wrong(cast: Cast, one: Layout) -> None:
    page = signed_in(cast.teacher).get(reverse("layout", args=[one.pk]))
    told = page.context["state"]["parting"]
    assert [(cut["name"], cut["sides"][0]["words"]) for cut in told["cuts"]] == [
        ("cut 1", "left edge"),
        ("cut 2", "lower edge"),
    ]
    assert sorted((part["letter"], part["size"]) for part in told["parts"]) == [
        ("", "60.0 mm × 40.0 mm"),
        ("A", "60.0 mm × 50.0 mm"),
        ("B", "60.0 mm × 90.0 mm"),
    ]
    answer = post(cast, one, do="move", cut="CU-1|0", line="[20, 0, 20, 90]", seen="0", key="a")
    faults = answer.json()["state"]["judged"]["faults"]
    words = {fault["code"]: fault["words"] for fault in faults}
    assert words["cut-through-piece"] == "Cut 1 goes through A."
    answer = post(cast, one, do="shift", cut="CU-1|0", edge="l", distance="8", seen="1", key="b")
    faults = {f["code"]: f for f in answer.json()["state"]["judged"]["faults"]}
    assert "strip-too-narrow" in faults
    assert faults["strip-too-narrow"]["on"] == "CU-1"


def test_cuts_are_typed(cast: Cast, one: Layout) -> None:
    asked: list[dict[str, str]] = [
        {"do": "remove", "cut": "CU-1|1"},
        {"do": "add", "part": "CU-1|2", "edge": "upper", "distance": "20", "lean": ""},
        {"do": "turn", "cut": "CU-1|0", "degrees": "80"},
        {"do": "turn", "cut": "CU-1|0", "degrees": "90"},
        {"do": "size", "part": "CU-1|1", "wide": "55", "high": "", "wide-was": "60"},
        {"do": "shift", "cut": "CU-1|0", "edge": "r", "distance": "2 in"},
    ]
    for version, fields in enumerate(asked):
        answer = post(cast, one, seen=str(version), key=f"k{version}", **fields)
        assert answer.status_code == 200, answer.content
        assert answer.json()["state"]["version"] == version + 1
    first, second = newest(one).cuts
    assert first["from"][0] == pytest.approx(120 - 50.8)
    assert (second["part"], second["from"][1], second["to"][1]) == (2, 70.0, 70.0)


@pytest.mark.parametrize(
    "fields",
    [
        {"do": "move", "cut": "CU-1|0", "line": "[0,0,NaN,1]"},
        {"do": "move", "cut": "CU-1|0", "line": "[1e300,0,1,1]"},
        {"do": "move", "cut": "CU-1|0", "line": "[1,1,1,1]"},
        {"do": "move", "cut": "CU-1|0", "line": "[" * 5000},
        {"do": "move", "cut": "CU-1|0", "line": '["1",0,1,1]'},
        {"do": "move", "cut": "CU-1|0", "line": "[true,0,1,1]"},
        {"do": "move", "cut": "CU-1|99999", "line": "[1,0,1,1]"},
        {"do": "move", "cut": "CU-9|0", "line": "[1,0,1,1]"},
        {"do": "move", "cut": "", "line": "[1,0,1,1]"},
        {"do": "shift", "cut": "CU-1|0", "edge": "l", "distance": "-5"},
        {"do": "shift", "cut": "CU-1|0", "edge": "x", "distance": "5"},
        {"do": "shift", "cut": "CU-1|0", "edge": "l", "distance": "9" * 500},
        {"do": "add", "part": "CU-1|1", "edge": "left", "distance": "5"},
        {"do": "add", "part": "CU-9|0", "edge": "left", "distance": "5"},
        {"do": "add", "part": "CU-1|4", "edge": "left", "distance": "500"},
        {"do": "turn", "cut": "CU-1|0", "degrees": "inf"},
        {"do": "size", "part": "CU-1|3", "wide": "", "high": ""},
        {"do": "remove", "cut": "CU-1|0"},
        {"do": "burn"},
    ],
)
def test_what_is_no_cut_changes_nothing(cast: Cast, one: Layout, fields: dict[str, str]) -> None:
    answer = post(cast, one, seen="0", key="k", **fields)
    assert answer.status_code == 409
    assert answer.json()["text"]
    assert newest(one).version == 0


def test_cuts_are_bounded(cast: Cast, one: Layout, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parting, "MOST_OF_A_LAYOUT", 2)
    answer = post(cast, one, do="add", part="CU-1|2", edge="left", distance="20", seen="0")
    assert answer.status_code == 409
    assert "too many" in json.loads(answer.content)["text"]


def test_only_the_teacher_of_the_course_moves_cuts(cast: Cast, one: Layout) -> None:
    address = reverse("layout_cuts", args=[one.pk])
    for person in (cast.owner, cast.classmate, cast.outsider):
        assert signed_in(person).post(address, {"do": "remove", "cut": "CU-1|1"}).status_code == 404
    assert newest(one).version == 0


def test_a_plain_form_says_what_is_wrong_and_keeps_what_was_typed(cast: Cast, one: Layout) -> None:
    page = signed_in(cast.teacher).post(
        reverse("layout_cuts", args=[one.pk]),
        {"do": "shift", "cut": "CU-1|0", "edge": "l", "distance": "900", "seen": "0"},
    )
    assert page.status_code == 422
    body = page.content.decode()
    assert "would miss the part" in body
    assert 'value="900"' in body
    done = signed_in(cast.teacher).post(
        reverse("layout_cuts", args=[one.pk]),
        {"do": "shift", "cut": "CU-1|0", "edge": "l", "distance": "58", "seen": "0"},
    )
    assert done.status_code == 302
    assert newest(one).cuts[0]["from"][0] == 58.0
