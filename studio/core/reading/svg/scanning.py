"""Reads numbers and words out of attribute text, one character after another, never guessing."""

from __future__ import annotations

import re

from ..bounds import MAX_NUMBER
from .fault import Fault, quoted

_SPACE = re.compile(r"[ \t\r\n\f]*")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_WORD = re.compile(r"[A-Za-z][A-Za-z-]*")
_LONGEST_NUMBER = 100  # longer digit strings carry nothing and take long to convert


class Scanner:
    """A cursor over attribute text. Positions in messages count characters from 1."""

    def __init__(self, text: str, what: str) -> None:
        self.text = text
        self.what = what
        self.at = 0

    @property
    def done(self) -> bool:
        return self.at >= len(self.text)

    @property
    def next(self) -> str:
        return self.text[self.at] if self.at < len(self.text) else ""

    def skip_space(self) -> None:
        match = _SPACE.match(self.text, self.at)
        if match:
            self.at = match.end()

    def skip_comma(self) -> bool:
        """Skips space with at most one comma; says whether a comma was there."""
        self.skip_space()
        if self.next != ",":
            return False
        self.at += 1
        self.skip_space()
        return True

    @property
    def at_number(self) -> bool:
        return _NUMBER.match(self.text, self.at) is not None

    def number(self) -> float:
        match = _NUMBER.match(self.text, self.at)
        if match is None:
            raise self.fault("a number")
        if match.end() - self.at > _LONGEST_NUMBER:
            raise self.fault("a shorter number")
        value = float(match.group())
        if not abs(value) <= MAX_NUMBER:
            raise Fault(
                "number-huge",
                f"{self.what} has the number {quoted(match.group(), 20)}, "
                f"which is far too large, at character {self.at + 1}.",
                "Redraw this line at its real size.",
            )
        self.at = match.end()
        return value

    def flag(self) -> bool:
        """An arc's flag: exactly one character, 0 or 1, which the next number may follow."""
        if self.next not in ("0", "1") or self.next == "":
            raise self.fault("a flag 0 or 1")
        self.at += 1
        return self.text[self.at - 1] == "1"

    def word(self) -> str:
        match = _WORD.match(self.text, self.at)
        if match is None:
            raise self.fault("a name")
        self.at = match.end()
        return match.group()

    def expect(self, char: str) -> None:
        if self.next != char:
            raise self.fault(quoted(char))
        self.at += 1

    def fault(self, wanted: str) -> Fault:
        found = "it ends there" if self.done else f"there is {quoted(self.text[self.at :], 12)}"
        return Fault(
            "syntax",
            f"{self.what} cannot be read at character {self.at + 1}: "
            f"{wanted} should stand there, but {found}.",
            "Open the file in a drawing program, redraw this line, and save as plain SVG.",
        )
