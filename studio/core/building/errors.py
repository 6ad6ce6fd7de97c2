"""How building from shapes says no."""

from __future__ import annotations


class RecipeError(ValueError):
    """A recipe that cannot be built: `message` says what is wrong, `mend` how to put it right.

    `step` is the id of the step that is meant, "" when it is the whole recipe; `field` the name
    of the value of that step, "" when none alone is wrong.
    """

    def __init__(self, message: str, mend: str, step: str = "", field: str = "") -> None:
        super().__init__(message, mend, step, field)
        self.message = message
        self.mend = mend
        self.step = step
        self.field = field

    def __str__(self) -> str:
        return f"{self.message} {self.mend}"
