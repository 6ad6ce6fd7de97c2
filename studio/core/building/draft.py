"""A recipe while it is being built: numbered states, with what can be undone and redone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Self

from .errors import RecipeError
from .recipe import Recipe

MOST_KEPT: Final = 40


@dataclass(frozen=True, slots=True)
class Draft:
    """`stamp` grows with every change, also an undo: two windows tell by it who is behind."""

    recipe: Recipe = field(default_factory=Recipe)
    stamp: int = 0
    past: tuple[Recipe, ...] = ()
    future: tuple[Recipe, ...] = ()

    def changed(self, recipe: Recipe) -> Self:
        """What could be redone is given up, as a new way has been taken."""
        past = (*self.past, self.recipe)[-MOST_KEPT:]
        return type(self)(recipe, self.stamp + 1, past)

    def undone(self) -> Self:
        if not self.past:
            raise RecipeError("There is nothing to undo.", "Go on building.")
        *before, last = self.past
        future = (self.recipe, *self.future)[:MOST_KEPT]
        return type(self)(last, self.stamp + 1, tuple(before), future)

    def redone(self) -> Self:
        if not self.future:
            raise RecipeError("There is nothing to do again.", "Go on building.")
        first, *after = self.future
        past = (*self.past, self.recipe)[-MOST_KEPT:]
        return type(self)(first, self.stamp + 1, past, tuple(after))

    def to_json(self) -> dict[str, Any]:
        return {
            **self.recipe.to_json(),
            "stamp": self.stamp,
            "past": [recipe.to_json()["steps"] for recipe in self.past],
            "future": [recipe.to_json()["steps"] for recipe in self.future],
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """A stored draft. Raises RecipeError when it is none."""
        recipe = Recipe.from_json(data)
        version = data["version"]

        def kept(name: str) -> tuple[Recipe, ...]:
            found = data.get(name, [])
            if not isinstance(found, list):
                return ()
            return tuple(
                Recipe.from_json({"version": version, "steps": steps})
                for steps in found[:MOST_KEPT]
            )

        stamp = data.get("stamp", 0)
        whole = stamp if isinstance(stamp, int) and stamp >= 0 else 0
        return cls(recipe, whole, kept("past"), kept("future"))
