"""How reading says that it cannot go on."""

from __future__ import annotations


class PatternError(Exception):
    """Nothing can be read out of this file at all.

    `code` is a short kebab-case name that never changes; `message` says what is wrong, `mend`
    how to put it right, `where` names the place in the file when there is one.
    """

    def __init__(self, code: str, message: str, mend: str, where: str = "") -> None:
        super().__init__(code, message, mend, where)
        self.code = code
        self.message = message
        self.mend = mend
        self.where = where

    def __str__(self) -> str:
        place = f" ({self.where})" if self.where else ""
        return f"{self.message}{place} {self.mend}".strip()


class UnitUnknown(PatternError):
    """A drawing whose file does not say what one unit is, and nobody has said so.

    `width` and `height` are those of the whole drawing, in its own units.
    """

    def __init__(self, width: float, height: float) -> None:
        super().__init__(
            "unit-unknown",
            "The file does not say in which unit it was drawn.",
            "Say what one unit of the drawing is, or how wide the whole drawing is.",
        )
        self.width = width
        self.height = height
