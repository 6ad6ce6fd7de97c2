"""What a person sees when a page could not be made: whose fault it is, and what to do."""

from __future__ import annotations

import logging
import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.views.defaults import server_error

from classroom.full_disk import PAGE_STATUS, is_full
from classroom.full_disk import words as full_disk

logger = logging.getLogger(__name__)

RETRY_SECONDS = 20


def page_not_made(request: HttpRequest) -> HttpResponse:
    """`handler500`: a full disk, and a database that is away or held, are told apart from a
    fault of ours.

    The page asks nothing of the database: no person, no school.
    """
    error = sys.exc_info()[1]
    if is_full(error):
        logger.error("a page could not be made: the disk is full (%s)", error)
        return HttpResponse(
            loader.render_to_string("507.html", {"words": full_disk()}), status=PAGE_STATUS
        )
    if isinstance(error, OperationalError | InterfaceError):
        answer = HttpResponse(loader.render_to_string("503.html"), status=503)
        answer["Retry-After"] = str(RETRY_SECONDS)
        return answer
    return server_error(request)
