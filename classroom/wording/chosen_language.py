"""In which language a page answers: what its address asks for, else what its reader usually has."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.translation import get_language

from classroom.languages import LANGUAGES, in_language, known
from classroom.models import School

KEPT = "language"
"""Session key of a student's choice. It ends with the sign-out: machines are shared."""


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


def language_links(request: HttpRequest, current: str) -> list[dict[str, object]]:
    """This page in each language, for `components/page/sections.html`."""
    query = request.GET.copy()
    links: list[dict[str, object]] = []
    for code, name in LANGUAGES.items():
        query["lang"] = code
        url = f"{request.path}?{query.urlencode()}"
        links.append({"label": name, "url": url, "current": code == current, "code": code})
    return links
