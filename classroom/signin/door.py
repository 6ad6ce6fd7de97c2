"""Where somebody goes who is not signed in: to the sign-in page, or to the first run.

A form that was open too long loses nothing silently: the person is told that it has to be sent
again, and comes back to the page with the form, never to an address that only takes POST.
"""

from __future__ import annotations

from urllib.parse import urlencode, urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from classroom.models import School

SENT_TOO_LATE = (
    "You had been signed out, so nothing was saved. Sign in and send it again: "
    "you come back to the page where you were."
)


def send_to_door(request: HttpRequest) -> HttpResponseBase:
    """Redirect to the first run where there is no school yet, else to sign-in and back."""
    if not School.objects.exists():
        return _go(request, reverse("first_run"))
    if request.method not in ("GET", "HEAD"):
        messages.warning(request, SENT_TOO_LATE)
    back = _page_to_come_back_to(request)
    return _go(request, f"{reverse('sign_in')}?{urlencode({'next': back})}")


def _page_to_come_back_to(request: HttpRequest) -> str:
    """The page itself; for a form that was sent, or a part of a page, the page it stands on."""
    part_of_page = request.headers.get("HX-Current-URL", "")
    if request.method in ("GET", "HEAD") and not part_of_page:
        return request.get_full_path()
    came_from = part_of_page or request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(came_from, {request.get_host()}):
        return "/"
    split = urlsplit(came_from)
    return f"{split.path or '/'}?{split.query}" if split.query else split.path or "/"


def _go(request: HttpRequest, url: str) -> HttpResponseBase:
    if request.headers.get("HX-Request"):
        # A redirect would put the sign-in page into the middle of the page that is open.
        response = HttpResponse()
        response["HX-Redirect"] = url
        return response
    return redirect(url)
