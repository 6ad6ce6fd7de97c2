"""Which printer is a true-size print for? Chosen on the print's page, remembered by the browser."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpResponse

from classroom.models import PrinterCheck
from classroom.papers.printers import printers_of
from classroom.permissions import Visit
from classroom.queries import printer_for
from studio.prints.paper.sizes import printer_from, printer_of

COOKIE = "printer"
_A_YEAR = 365 * 24 * 60 * 60


def correction_for(request: Visit, *, from_memory: bool = True) -> dict[str, Any]:
    """Context of a true-size print: `printer` and what the page offers to choose.

    Bars typed for this once (`across`, `up`) are stronger than a chosen printer (`printer`),
    and that is stronger than the one remembered, which counts with `from_memory`.
    """
    typed = any(request.GET.get(name, "").strip() for name in ("across", "up"))
    chosen = None if typed else _chosen(request, from_memory)
    if chosen is not None:
        printer, complaint = printer_of(chosen), ""
    else:
        printer, complaint = printer_from(request.GET)
    return {
        "printer": printer,
        "printer_complaint": complaint,
        "printers": list(printers_of(request.user.school)),
        "printer_pk": None if chosen is None else chosen.pk,
        "across": request.GET.get("across", "")[:12],
        "up": request.GET.get("up", "")[:12],
    }


def _chosen(request: Visit, from_memory: bool) -> PrinterCheck | None:
    asked = request.GET.get("printer")
    if asked is None:
        asked = request.COOKIES.get(COOKIE, "") if from_memory else ""
    return printer_for(request.user, int(asked)) if _is_key(asked) else None


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 15


def remembered(request: Visit, answer: HttpResponse) -> HttpResponse:
    """The answer, with the printer that was chosen just now, if one was, for next time."""
    asked = request.GET.get("printer")
    if asked is None:
        return answer
    if _is_key(asked) and printer_for(request.user, int(asked)) is not None:
        answer.set_cookie(
            COOKIE,
            asked,
            max_age=_A_YEAR,
            httponly=True,
            samesite="Lax",
            secure=bool(settings.SESSION_COOKIE_SECURE),
        )
    else:
        answer.delete_cookie(COOKIE, samesite="Lax")
    return answer
