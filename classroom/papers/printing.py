"""One template, two papers: a print view in the browser and a PDF through WeasyPrint.

Lengths are exact in both: templates give them in millimetres. A short PDF is made in the web
process, one at a time; a longer one holds the processor for seconds, so all of it is made
elsewhere (`PaperWays`, which the studio gives) while the person waits on a page that says so.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext

from classroom.models import School, User
from classroom.refusals import Busy

from .pdf_making import NoPango, make_pdf
from .requests import PaperHtml, PaperRequest
from .turns import IN_THE_WEB

PANGO_IS_MISSING: Final = (
    "PDF printing needs Pango, which is not installed here; README.md names the packages. "
    "The print view in the browser works without it."
)
_PRESS = threading.BoundedSemaphore(1)


class PaperIsMissing(RuntimeError):
    """The machine lacks the libraries that make PDF; the message says what to install."""


@dataclass(frozen=True, slots=True)
class PaperWays:
    """How longer papers are made outside the web process.

    `queued` answers a request for a PDF, to be called `name`: with the PDF, or with the page
    that waits for it; `requests` says how its HTML is come by. `apart` makes the PDF of
    HTML while the caller waits, in a process of its own.
    """

    queued: Callable[[HttpRequest, str], HttpResponse]
    apart: Callable[[str, str], bytes]


_ways: list[PaperWays] = []


def use_ways(ways: PaperWays) -> None:
    _ways[:] = [ways]


def printed(
    request: HttpRequest,
    template: str,
    context: Callable[[], Mapping[str, Any]],
    *,
    name: str,
    short: bool = False,
) -> HttpResponse:
    """Answer with the PDF when the address asks `?as=pdf`, else with the print view.

    `context` draws the paper up, and is called only where the paper is made: what takes long
    belongs into it, while whose paper it is must be asked before. `name` becomes the file name.
    The template extends `print_base.html` and finds `paper`
    ("a4" or "letter"), `school`, `printed_at`, `pdf` and `pdf_url` in its context. `short` is for
    papers of one page with few words, whoever asks: a third of a second, where a page of text
    takes one and a class's papers take three to nine. Others have their turn in a web process,
    as print views too; raises Busy where too many wait for theirs.
    """
    assert isinstance(request.user, User)
    school = request.user.school

    def html() -> str:
        full = paper_context(school) | {**context(), "pdf": True}
        return render_to_string(template, full, request=request)

    if isinstance(request, PaperRequest):
        return PaperHtml(html(), school.paper)
    if request.GET.get("as") == "pdf":
        return _as_pdf(request, html, school.paper, name, short)
    query = request.GET.copy()
    query["as"] = "pdf"
    pdf_url = f"{request.path}?{query.urlencode()}"
    with contextlib.nullcontext() if short else IN_THE_WEB.turn(request.user.pk):
        full = paper_context(school) | {**context(), "pdf_url": pdf_url}
        return render(request, template, full)


def _as_pdf(
    request: HttpRequest, html: Callable[[], str], paper: str, name: str, short: bool
) -> HttpResponse:
    if not _ways:
        return pdf_response(html_to_pdf(html(), paper), name)
    if short and _PRESS.acquire(blocking=False):
        try:
            return pdf_response(html_to_pdf(html(), paper), name)
        finally:
            _PRESS.release()
    return _ways[0].queued(request, name)


@contextlib.contextmanager
def press() -> Iterator[Callable[[str, str], bytes]]:
    """For papers that must not lie on a disk, not even for a moment: `(html, paper) -> PDF`.

    One at a time in a process: raises Busy at once where one is being made, so ask for it
    before anything is changed. The PDF is made apart where the studio gives a way to do so.
    """
    if not _PRESS.acquire(blocking=False):
        raise Busy(gettext("Another paper is being made just now. Try in a moment."))
    try:
        yield _ways[0].apart if _ways else html_to_pdf
    finally:
        _PRESS.release()


def paper_context(school: School) -> dict[str, Any]:
    return {
        "school": school,
        "paper": school.paper,
        "printed_at": timezone.localtime(),
        "pdf": False,
    }


def pdf_bytes(template: str, context: dict[str, Any]) -> bytes:
    """The template as PDF, in this very process: for files, scripts and the demo.

    Raises PaperIsMissing when Pango is not installed.
    """
    html = render_to_string(template, context | {"pdf": True})
    return html_to_pdf(html, str(context.get("paper", "a4")))


def html_to_pdf(html: str, paper: str) -> bytes:
    try:
        return make_pdf(html, paper)
    except NoPango as missing:
        raise PaperIsMissing(PANGO_IS_MISSING) from missing


def pdf_response(content: bytes, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{slugify(name) or "print"}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response
