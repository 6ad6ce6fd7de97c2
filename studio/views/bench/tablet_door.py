"""What a bench tablet shows at the door: its own signed cookie, sent to its own pages only.

The tablet is no session: nobody is signed in on it, and no other page looks at its cookie.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext, gettext_noop
from django.views.decorators.cache import never_cache

from classroom.languages import LANGUAGES, in_language
from classroom.models import School
from classroom.wording.school_clock import on_the_clock_of
from studio.models import BenchTablet
from studio.steps.bench.tablet import tablet_of
from studio.views.house.sure_send import wants_json

COOKIE = "bench_tablet"
PATH = "/tablet/"
SALT = "studio.bench-tablet"
NOT_HERE = gettext_noop(
    "This device is not a bench tablet now: it was closed, or its day is over. A teacher opens it "
    "again from the class bench."
)


class AtTheBench(HttpRequest):
    """A request from a bench tablet; views behind `on_bench_tablet` get one."""

    tablet: BenchTablet


def on_bench_tablet(view: Callable[..., HttpResponseBase]) -> Any:
    """Mark a view that only a device opened as a bench tablet may use; refuse every other.

    It asks for no role (`action` is None, as on the open pages) but for the tablet's cookie:
    whoever stands at the device, signed in or not, may see what it shows.
    """

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        tablet = _shown(request)
        if tablet is None:
            return _refuse(request)
        here = cast(AtTheBench, request)
        here.tablet = tablet
        school = tablet.course.school
        with (
            on_the_clock_of(school),
            in_language(_asked(request, school)),
        ):
            return view(here, *args, **kwargs)

    guard = cast(Any, never_cache(guarded))
    guard.action = None
    guard.for_tablets = True
    return guard


def hand_over(response: HttpResponse, tablet: BenchTablet, secret: str) -> None:
    """Give the device its cookie, for the tablet's pages and until its day ends."""
    response.set_signed_cookie(
        COOKIE,
        f"{tablet.pk}:{secret}",
        salt=SALT,
        expires=tablet.expires_at,
        path=PATH,
        httponly=True,
        samesite="Strict",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _asked(request: HttpRequest, school: School) -> str:
    """The language that this page or form asks for; nothing is kept for the next student."""
    asked = request.GET.get("lang") or request.POST.get("lang") or ""
    return asked if asked in LANGUAGES else school.language


def _shown(request: HttpRequest) -> BenchTablet | None:
    """The tablet that the cookie names; None for none, a forged, an old or a closed one."""
    token = request.get_signed_cookie(COOKIE, default="", salt=SALT)
    pk, _, secret = str(token or "").partition(":")
    if not (pk.isascii() and pk.isdigit() and len(pk) < 16 and secret):
        return None
    return tablet_of(int(pk), secret)


def _refuse(request: HttpRequest) -> HttpResponse:
    response: HttpResponse
    if wants_json(request):
        response = JsonResponse({"text": gettext(NOT_HERE)}, status=403)
    else:
        response = render(
            request, "studio/bench/tablet/not_here.html", {"text": gettext(NOT_HERE)}, status=403
        )
    if request.headers.get("HX-Request"):
        response["HX-Refresh"] = "true"  # the list on an open page gives way to the refusal
    response.delete_cookie(COOKIE, path=PATH, samesite="Strict")
    return response
