"""What can be done to a recipe as a whole: add, change, copy, order and remove steps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from .errors import RecipeError
from .kinds import KINDS
from .recipe import MOST_STEPS, Recipe, Step

BESIDE_MM: Final = 5.0
"""A copy lies this far from its original, so that it is seen."""


def added(recipe: Recipe, kind_name: str, values: Mapping[str, object]) -> tuple[Recipe, str]:
    """The recipe with a new last step, and the step's id."""
    if kind_name not in KINDS:
        raise RecipeError("There is no such shape.", "Choose one from the list.")
    new_id = next_id(recipe)
    step = Step.from_json({"id": new_id, "kind": kind_name, **values})
    return _checked((*recipe.steps, step)), new_id


def changed(
    recipe: Recipe, step_id: str, values: Mapping[str, object], name: str | None = None
) -> Recipe:
    return recipe.with_step(_step(recipe, step_id).changed(values, name))


def without(recipe: Recipe, step_id: str) -> Recipe:
    gone = _step(recipe, step_id)
    return Recipe(tuple(step for step in recipe if step is not gone))


def copied(recipe: Recipe, step_id: str) -> tuple[Recipe, str]:
    """A second step like it, right after it and a little beside it, and its id."""
    step = _step(recipe, step_id)
    new_id = next_id(recipe)
    values: dict[str, object] = {**step.to_json(), "id": new_id}
    if step.has("x"):
        values["x"] = step.number("x") + BESIDE_MM
    copy = Step.from_json(values)
    place = recipe.steps.index(step) + 1
    return _checked((*recipe.steps[:place], copy, *recipe.steps[place:])), new_id


def moved(recipe: Recipe, step_id: str, by: int) -> Recipe:
    """The step that many places later (or earlier, when negative), as far as there are any."""
    step = _step(recipe, step_id)
    others = [each for each in recipe if each is not step]
    place = max(0, min(len(others), recipe.steps.index(step) + by))
    return Recipe((*others[:place], step, *others[place:]))


def next_id(recipe: Recipe) -> str:
    return str(max((int(step.id) for step in recipe), default=0) + 1)


def _step(recipe: Recipe, step_id: str) -> Step:
    step = recipe.step(step_id)
    if step is None:
        raise RecipeError("This step is not in the recipe any more.", "Choose another one.")
    return step


def _checked(steps: tuple[Step, ...]) -> Recipe:
    if len(steps) > MOST_STEPS:
        raise RecipeError(
            f"A recipe has at most {MOST_STEPS} steps.",
            "Remove a step, or use one shape several times.",
        )
    return Recipe(steps)
