"""Answers to forms that their page sends again until it hears something (static/js/sure_send.js).

A page without scripts gets the same as a redirect and a message.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from classroom.refusals import Refused


def wants_json(request: HttpRequest) -> bool:
    """Whether the page's script asks, which shows the answer itself."""
    return request.headers.get("Accept", "").startswith("application/json")


def sent_at_once(request: HttpRequest, address: str) -> HttpResponse:
    """It is done: go on at `address`."""
    return JsonResponse({"go": address}) if wants_json(request) else redirect(address)


def refused_at_once(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """A rule says no, in words beside the button; plain forms leave that to the middleware."""
    if wants_json(request):
        return JsonResponse({"text": str(refusal)}, status=409)
    raise refusal
