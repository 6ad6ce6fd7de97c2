"""The languages in which safety and bench texts and their prints exist.

classroom/wording/README.md, "A new language", says how one is added.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import Final

from django.utils import translation
from django.utils.translation import gettext, ngettext

LANGUAGES: Final = {"en": "English", "es": "Español"}
"""Code to its own name. Each has `locale/<code>` (but English, the source) and topic texts."""


def language_choices() -> list[tuple[str, str]]:
    return list(LANGUAGES.items())


class _InUse:
    """Puts texts into the language that is on; what the pure core calls a `Say`."""

    def __call__(self, text: str, /) -> str:
        return gettext(text)

    def count_of(self, one: str, many: str, number: int, /) -> str:
        return ngettext(one, many, number)


SAY: Final = _InUse()


def in_language(language: str) -> AbstractContextManager[None]:
    """Within it, texts come in that language, or in English where the house has none of it."""
    return translation.override(known(language))


def known(language: str) -> str:
    """The language, or English where the house has none of that code."""
    return language if language in LANGUAGES else "en"
