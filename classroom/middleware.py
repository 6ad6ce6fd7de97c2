"""Each request runs on its school's clock, and a rule's refusal becomes a message."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.log import log_response

from .languages import in_language
from .models import User
from .papers.printing import PaperIsMissing
from .refusals import Busy, Refused, as_busy
from .wording.school_clock import on_the_clock_of


class SchoolClockMiddleware:
    """ "10:42" on a page means the clock on the school's wall."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if isinstance(request.user, User):
            with on_the_clock_of(request.user.school):
                return self.get_response(request)
        return self.get_response(request)


class RefusalMiddleware:
    """Shows a rule's refusal on the page the person came from, instead of a server error."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        answer = self.get_response(request)
        is_busy = answer.status_code == 503 and answer.has_header("Retry-After")
        if is_busy and isinstance(answer, HttpResponse):
            # Many people at once are no fault of the program, and no error in its log.
            log_response(
                "Told to try in a moment: %s",
                request.path,
                response=answer,
                request=request,
                level="info",
            )
        return answer

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if isinstance(error, PaperIsMissing):
            return render(request, "classroom/refused.html", {"reason": str(error)}, status=503)
        if not isinstance(error, Refused):
            return None
        if isinstance(error, Busy):
            with in_language(getattr(request, "shown_in", "en")):
                page = render(request, "classroom/refused.html", {"reason": str(error)})
            return as_busy(page, error)
        came_from = request.headers.get("Referer", "")
        here = {request.get_host()}
        if request.method == "POST" and url_has_allowed_host_and_scheme(came_from, here):
            messages.error(request, str(error))
            return redirect(came_from)
        with in_language(getattr(request, "shown_in", "en")):
            return render(request, "classroom/refused.html", {"reason": str(error)}, status=409)
