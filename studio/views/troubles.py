"""What a person sees when a page could not be made: whose fault it is, and what to do."""

from __future__ import annotations

import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.views.defaults import server_error

RETRY_SECONDS = 20


def page_not_made(request: HttpRequest) -> HttpResponse:
    """`handler500`: a database that is away or held is told apart from a fault of ours.

    The page asks nothing of the database: no person, no school.
    """
    error = sys.exc_info()[1]
    if isinstance(error, OperationalError | InterfaceError):
        answer = HttpResponse(loader.render_to_string("503.html"), status=503)
        answer["Retry-After"] = str(RETRY_SECONDS)
        return answer
    return server_error(request)
