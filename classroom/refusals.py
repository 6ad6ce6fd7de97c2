"""How a rule says no: in words that tell the person what to do next."""

from __future__ import annotations

from django.http import HttpResponse


class Refused(Exception):
    """A rule of the house refuses; the message is shown to the person as it stands.

    Raised inside the transaction, so that nothing is half-saved. Views with a form catch it and
    show it on the form, keeping what was typed; for plain buttons `RefusalMiddleware` shows it
    as a message on the page the person came from.
    """


def a_reason(typed: str, *, most: int | None = None) -> str:
    """The reason of a correction on one line, cut to `most` signs. Raises Refused without one."""
    why = " ".join(typed.split())[:most]
    if not why:
        raise Refused("Say why: every correction has a reason.")
    return why


class Busy(Refused):
    """Too much is being done at this moment; the same request succeeds a little later.

    Answered with 503 and `Retry-After`. Views with a form show it there and keep the file.
    """

    after_seconds = 15


def as_busy(page: HttpResponse, busy: Busy) -> HttpResponse:
    """The page that says so, with the status and the header by which machines know it too."""
    page.status_code = 503
    page["Retry-After"] = str(busy.after_seconds)
    page["Cache-Control"] = "private, no-store"
    return page
