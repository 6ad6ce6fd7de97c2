"""How building from shapes says no."""

from __future__ import annotations


class RecipeError(ValueError):
    """A recipe that cannot be built: `message` says what is wrong, `mend` how to put it right.

    `step` is the id of the step that is meant, "" when it is the whole recipe.
    """

    def __init__(self, message: str, mend: str, step: str = "") -> None:
        super().__init__(message, mend, step)
        self.message = message
        self.mend = mend
        self.step = step

    def __str__(self) -> str:
        return f"{self.message} {self.mend}"
