"""In which language does a sentence stand? The pure code's only door to translations.

A function that makes sentences takes a `Say`: it hands over each English text, with
`%(name)s` where values go, and gets it back in the language that is wanted. What a text looks
like in other languages is no business of this code.
"""

from __future__ import annotations

from typing import Final, Protocol


class Say(Protocol):
    """Puts English texts into a language."""

    def __call__(self, text: str, /) -> str:
        """The text; unchanged where it has no translation."""

    def count_of(self, one: str, many: str, number: int, /) -> str:
        """The form of a text that goes with this number of things."""


class _English:
    def __call__(self, text: str, /) -> str:
        return text

    def count_of(self, one: str, many: str, number: int, /) -> str:
        return one if number == 1 else many


ENGLISH: Final[Say] = _English()
