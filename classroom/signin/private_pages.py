"""What a browser keeps of a page once its person has gone: nothing. Machines here are shared.

One rule for every answer of the app. Static files are answered before it and keep their own.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

RULE = "private, no-store"


class PrivatePagesMiddleware:
    """Back after signing out asks the server again, and gets the sign-in page.

    Without the rule a browser keeps whole pages in memory and shows them, whoever sits there now.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if "no-store" not in response.get("Cache-Control", ""):
            response["Cache-Control"] = RULE
        return response


def forget_pages(request: HttpRequest, response: HttpResponseBase) -> None:
    """Tell the browser to throw away what it stored before the rule, such as an older version's.

    Only where it listens: browsers heed the header over TLS alone, and complain of it elsewhere.
    Cookies and the site's storage stay; a known device is still known.
    """
    if request.is_secure():
        response["Clear-Site-Data"] = '"cache"'
