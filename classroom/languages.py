"""The languages in which safety texts and prints exist; DEVELOPERS.md says how one is added."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.http import HttpRequest

if TYPE_CHECKING:
    from .models import School

LANGUAGES: Final = {"en": "English", "es": "Español"}
"""Code to its own name. Each has `locale/<code>` (but English, the source) and topic texts."""


def language_choices() -> list[tuple[str, str]]:
    return list(LANGUAGES.items())


def chosen_language(request: HttpRequest, school: School) -> str:
    """What the address asks for (`?lang=es`), else the school's language."""
    asked = request.GET.get("lang", "")
    return asked if asked in LANGUAGES else known(school.language)


def known(language: str) -> str:
    """The language, or English where the house has none of that code."""
    return language if language in LANGUAGES else "en"


def language_links(request: HttpRequest, current: str) -> list[dict[str, object]]:
    """This page in each language, for `components/sections.html`."""
    query = request.GET.copy()
    links: list[dict[str, object]] = []
    for code, name in LANGUAGES.items():
        query["lang"] = code
        url = f"{request.path}?{query.urlencode()}"
        links.append({"label": name, "url": url, "current": code == current, "code": code})
    return links
