"""What a person sees when a page could not be made: whose fault it is, and what to do."""

from __future__ import annotations

import logging
import sys
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import DisallowedHost
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.utils.translation import gettext
from django.utils.translation.trans_real import parse_accept_lang_header
from django.views.defaults import server_error

from classroom.files.full_disk import PAGE_STATUS, is_full
from classroom.files.full_disk import words as full_disk
from classroom.languages import LANGUAGES, in_language
from studio.config import not_received as statuses

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


def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """`handler400`: a name that is not this server's, or a request nobody can read."""
    with in_language(_spoken(request.META)):
        if isinstance(exception, DisallowedHost):
            told = {
                "title": gettext("This server does not go by that name"),
                "words": gettext(
                    "Nothing was saved. Whoever looks after the server adds the name or address "
                    "in your browser’s address bar to BENCHLEDGER_HOSTS and starts it again."
                ),
            }
        else:
            told = {
                "title": gettext("What you sent was not received"),
                "words": gettext(
                    "The server could not make out what was sent. Nothing was saved. Go back and "
                    "try it once more."
                ),
                "url": "/",
            }
        return HttpResponse(loader.render_to_string("not_received.html", told), status=400)


def not_received(status: int, environ: dict[str, Any]) -> bytes:
    """The page for a body that the server's door refused, in the browser's own language: who
    sent it is not known there."""
    with in_language(_spoken(environ)):
        words = {
            statuses.BUSY: gettext(
                "The server is receiving too many forms at this moment. Nothing was saved. Go back "
                "and send it again in a moment."
            ),
            statuses.LATE: gettext(
                "It did not arrive in time. Nothing was saved. Go back and send it again, where "
                "the network is better if you can."
            ),
            statuses.LARGE: gettext(
                "That is more than this server takes at once. Nothing was saved. Go back and send "
                "a smaller file."
            ),
            statuses.FULL: full_disk(),
        }[status]
        told = {
            "title": gettext("What you sent was not received"),
            "words": words,
            "url": "/",
        }
        return loader.render_to_string("not_received.html", told).encode()


def _spoken(environ: Mapping[str, Any]) -> str:
    """The first of the browser's languages that the house has."""
    accepted = parse_accept_lang_header(environ.get("HTTP_ACCEPT_LANGUAGE", "")[:200])
    spoken = (code.partition("-")[0] for code, _ in accepted)
    return next((code for code in spoken if code in LANGUAGES), "en")
