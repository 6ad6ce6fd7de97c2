"""Building a pattern from shapes, without a drawing program.

    recipe = Recipe.from_json({"version": 1, "steps": [{"id": "1", "kind": "circle"}]})
    built = build(recipe, brief.limits)          # RecipeError, in words
    written(built.sheet, "svg")                  # then read as every other file is

`kinds` has every kind of step with its numbers and their bounds; `recipe` checks what comes as
JSON; `shapes`, `letters` and `tilings` make outlines; `following` does one step after the other
on the `work` so far, and `lines` draws what came of it; `draft` adds undo and redo, `edits`
changes recipes, `starting` gives new steps their first numbers, `examples` are to begin with.
No geometry is ever worked out in the browser.
"""

from .draft import Draft
from .errors import RecipeError
from .examples import EXAMPLES
from .fields import Field, Kind, Role, Sort
from .following import Built, Shown, build
from .kinds import KINDS
from .recipe import Recipe, Step

__all__ = [
    "EXAMPLES",
    "KINDS",
    "Built",
    "Draft",
    "Field",
    "Kind",
    "Recipe",
    "RecipeError",
    "Role",
    "Shown",
    "Sort",
    "Step",
    "build",
]
