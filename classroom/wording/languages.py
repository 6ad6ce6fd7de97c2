"""The languages in which safety and bench texts and their prints exist.

DEVELOPERS.md says how one is added.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import wraps
from typing import TYPE_CHECKING, Any, Final, cast

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import translation
from django.utils.translation import get_language, gettext, ngettext

if TYPE_CHECKING:
    from classroom.models import School

LANGUAGES: Final = {"en": "English", "es": "Español"}
"""Code to its own name. Each has `locale/<code>` (but English, the source) and topic texts."""


def language_choices() -> list[tuple[str, str]]:
    return list(LANGUAGES.items())


KEPT = "language"
"""Session key of a student's choice. It ends with the sign-out: machines are shared."""


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


def chosen_language(request: HttpRequest, school: School) -> str:
    """What the page's address or form asks for (`lang`), else the person's usual language.

    What a student asks for is kept until the sign-out. What a teacher asks for is not: it would
    put the next print for somebody else into this language too.
    """
    asked = request.GET.get("lang") or request.POST.get("lang") or ""
    if asked not in LANGUAGES:
        return usual_language(request, school)
    user = getattr(request, "user", None)
    if getattr(user, "is_student", False) and request.session.get(KEPT) != asked:
        request.session[KEPT] = asked
    return asked


def usual_language(request: HttpRequest, school: School) -> str:
    """The language without being asked: kept since the sign-in, else remembered on the person's
    account, else the school's. A bench tablet has nobody signed in, so it has the school's.
    """
    user = getattr(request, "user", None)
    kept = request.session.get(KEPT, "") if getattr(user, "is_student", False) else ""
    return known(kept or getattr(user, "language", "") or school.language)


def shown_in_chosen_language(view: Callable[..., HttpResponseBase]) -> Any:
    """Mark a view that shows and answers in the language that `chosen_language` finds.

    It stands below `@requires`, so that somebody is signed in.
    """

    @wraps(view)
    def shown(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        school = cast(Any, request.user).school
        language = chosen_language(request, school)
        cast(Any, request).shown_in = language  # for a refusal, which is answered further out
        with in_language(language):
            return view(request, *args, **kwargs)

    return shown


def in_this_language(request: HttpRequest, url: str) -> str:
    """The address, asking for the language that is on where it would not come by itself."""
    current = get_language() or "en"
    usual = usual_language(request, cast(Any, request.user).school)
    return url if usual == current else f"{url}?lang={current}"


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
