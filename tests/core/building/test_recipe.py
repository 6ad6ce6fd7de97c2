"""Whatever comes as a recipe is followed or refused in words; drafts remember, edits keep order."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.core.building import KINDS, Draft, Recipe, RecipeError, Sort, build
from studio.core.building import edits as edit
from studio.core.building.fields import Field
from studio.core.building.starting import first_values
from studio.core.checking import check
from studio.core.drawing import Limits
from studio.core.reading import PatternError

from .recipes import LIMITS, built, read_back, recipe

ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=12,
)
WORDS = st.sampled_from(["version", "steps", "id", "kind", "name", "x", "role", *KINDS])
NEARLY = st.fixed_dictionaries(
    {"version": st.just(1)},
    optional={
        "steps": st.lists(
            st.dictionaries(WORDS, ANY | st.just("1") | st.sampled_from(list(KINDS)), max_size=6),
            max_size=4,
        )
    },
)


def value_of(field: Field) -> st.SearchStrategy[Any]:
    match field.sort:
        case Sort.CHOICE:
            return st.sampled_from([key for key, _ in field.choices])
        case Sort.TEXT:
            return st.text(alphabet="ABgo8é ", min_size=1, max_size=4)
        case Sort.COUNT:
            return st.integers(int(field.least), min(int(field.most), 8))
        case Sort.LENGTH:
            return st.floats(field.least, min(field.most, 60.0))
        case Sort.PLACE:
            return st.floats(-30.0, 30.0)
        case _:
            return st.floats(field.least, field.most)


@st.composite
def steps(draw: st.DrawFn) -> dict[str, Any]:
    kind = KINDS[draw(st.sampled_from(list(KINDS)))]
    told = draw(st.sets(st.sampled_from([field.name for field in kind.fields]), max_size=6))
    fields = {field.name: field for field in kind.fields}
    return {"kind": kind.name, **{name: draw(value_of(fields[name])) for name in sorted(told)}}


def assert_told(refusal: RecipeError | PatternError) -> None:
    assert refusal.message
    assert refusal.mend


@given(ANY | NEARLY)
@settings(max_examples=300, deadline=None)
def test_any_json_is_a_recipe_or_refused_in_words(data: Any) -> None:
    try:
        found = Recipe.from_json(data)
    except RecipeError as refused:
        assert_told(refused)
    else:
        assert Recipe.from_json(json.loads(json.dumps(found.to_json()))) == found


@given(st.lists(steps(), min_size=1, max_size=5))
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_lawful_recipe_is_built_and_read_or_refused_in_words(
    many: list[dict[str, Any]],
) -> None:
    """What is built is read back without a stop of the reader: no crossing, no open line."""
    try:
        made = built({"kind": "circle", "diameter": 30}, *many)
        if not made.sheet.layers:
            return
        drawing, _ = read_back(made)
    except (RecipeError, PatternError) as refused:
        assert_told(refused)
    else:
        assert all(piece.outline.is_valid for piece in drawing.pieces)
        check(drawing, LIMITS)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"diameter": 10**400}, "out of bounds"),
        ({"diameter": float("nan")}, "out of bounds"),
        ({"diameter": float("inf")}, "out of bounds"),
        ({"diameter": True}, "no number"),
        ({"diameter": "30"}, "no number"),
        ({"diameter": -1}, "out of bounds"),
        ({"count": 2.5}, "no whole number"),
        ({"role": "boss"}, "no such choice"),
        ({"role": ["metal"]}, "no such choice"),
        ({"name": "a\x07b"}, "cannot be seen"),
        ({"name": "n" * 41}, "too long"),
        ({"radius": 3}, "knows nothing called “radius”"),
        ({"kind": "blob"}, "not known"),
        ({"id": "one"}, "no number"),
    ],
)
def test_a_wrong_value_is_refused_and_named(change: dict[str, Any], said: str) -> None:
    step = {"id": "1", "kind": "circle", "diameter": 30}
    assert Recipe.from_json({"version": 1, "steps": [step]}).steps
    with pytest.raises(RecipeError, match=said):
        Recipe.from_json({"version": 1, "steps": [{**step, **change}]})


@pytest.mark.parametrize("data", [{"version": 2, "steps": []}, {"version": 1}, [], None, "x"])
def test_other_versions_and_things_are_no_recipes(data: Any) -> None:
    with pytest.raises(RecipeError):
        Recipe.from_json(data)


def test_steps_are_counted_and_have_one_number_each() -> None:
    step = {"kind": "circle"}
    assert len(recipe(*[step] * 60).steps) == 60
    with pytest.raises(RecipeError, match="at most 60 steps"):
        recipe(*[step] * 61)
    with pytest.raises(RecipeError, match="same number"):
        Recipe.from_json({"version": 1, "steps": [{"id": "1", **step}, {"id": "1", **step}]})


def test_copies_of_copies_are_refused_before_they_are_made() -> None:
    gear = {"kind": "star", "points": 24, "copies": "around", "count": 48, "joins": "apart"}
    around = {"kind": "all-around", "count": 48}
    with pytest.raises(RecipeError, match=r"too detailed|more than 800 pieces"):
        built({**gear, "x": 200, "diameter": 10}, around, around)


def test_scaling_up_until_chords_show_is_refused() -> None:
    larger = {"kind": "all-change", "percent": 200}
    with pytest.raises(RecipeError, match=r"more than 2\.5 times"):
        built({"kind": "circle"}, larger, larger)


def test_a_draft_undoes_and_does_again_and_counts_each_change() -> None:
    one, two = recipe({"kind": "circle"}), recipe({"kind": "star"})
    draft = Draft().changed(one).changed(two)
    back = draft.undone()
    assert (back.recipe, back.stamp) == (one, 3)
    assert back.redone().recipe == two
    assert not back.changed(two).future
    again = Draft.from_json(json.loads(json.dumps(back.to_json())))
    assert again == back
    with pytest.raises(RecipeError, match="nothing to undo"):
        Draft().undone()
    with pytest.raises(RecipeError, match="nothing to do again"):
        draft.redone()


def test_a_draft_keeps_forty_states() -> None:
    draft = Draft()
    for size in range(60):
        draft = draft.changed(recipe({"kind": "circle", "diameter": 10 + size}))
    assert len(draft.past) == 40


def test_steps_are_added_changed_copied_ordered_and_removed() -> None:
    start = recipe({"kind": "circle"})
    more, star = edit.added(start, "star", {"diameter": 12})
    assert star == "2"
    more = edit.changed(more, star, {"x": 4}, "North star")
    found = more.step(star)
    assert found is not None
    assert (found.name, found.number("x"), found.number("diameter")) == ("North star", 4, 12)
    twice, copy = edit.copied(more, star)
    assert [step.id for step in twice] == ["1", "2", copy]
    beside = twice.step(copy)
    assert beside is not None
    assert beside.number("x") == 9
    assert [step.id for step in edit.moved(twice, copy, -2)] == [copy, "1", "2"]
    assert [step.id for step in edit.without(twice, "1")] == ["2", copy]
    with pytest.raises(RecipeError, match="not in the recipe"):
        edit.without(twice, "77")


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("role", ["metal", "window", "line", "nonsense"])
@pytest.mark.parametrize("side", [5.0, 60.0, 600.0])
def test_every_kind_can_be_added_under_any_brief(kind: str, role: str, side: float) -> None:
    limits = Limits(max_width_mm=side, max_height_mm=side)
    for has_metal in (False, True):
        values = first_values(kind, role, limits, has_metal=has_metal)
        more, _ = edit.added(recipe({"kind": "circle", "diameter": side / 2}), kind, values)
        build(more, limits)
