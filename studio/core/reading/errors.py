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
