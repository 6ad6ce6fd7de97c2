"""One template, two papers: a print view in the browser and a PDF through WeasyPrint.

Lengths are exact in both: templates give them in millimetres. WeasyPrint is imported late, so
that the app runs without Pango and can say what to install.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import slugify

from .models import School, User

STYLE_SHEETS = ("css/print.css", "css/print_sheets.css")


class PaperIsMissing(RuntimeError):
    """The machine lacks the libraries that make PDF; the message says what to install."""


def printed(
    request: HttpRequest, template: str, context: dict[str, Any], *, name: str
) -> HttpResponse:
    """Answer with the PDF when the address asks `?as=pdf`, else with the print view.

    `name` becomes the file name. The template extends `print_base.html` and finds `paper`
    ("a4" or "letter"), `school`, `printed_at`, `pdf` and `pdf_url` in its context.
    """
    assert isinstance(request.user, User)
    full = paper_context(request.user.school) | context
    if request.GET.get("as") == "pdf":
        return pdf_response(pdf_bytes(template, full, request=request), name)
    query = request.GET.copy()
    query["as"] = "pdf"
    full["pdf_url"] = f"{request.path}?{query.urlencode()}"
    return render(request, template, full)


def paper_context(school: School) -> dict[str, Any]:
    return {
        "school": school,
        "paper": school.paper,
        "printed_at": timezone.localtime(),
        "pdf": False,
    }


def pdf_bytes(
    template: str, context: dict[str, Any], *, request: HttpRequest | None = None
) -> bytes:
    """The template as a tagged PDF (PDF/UA-1), every length true.

    Raises PaperIsMissing when Pango is not installed.
    """
    html = render_to_string(template, context | {"pdf": True}, request=request)
    return html_to_pdf(html, str(context.get("paper", "a4")))


def html_to_pdf(html: str, paper: str) -> bytes:
    try:
        from weasyprint import CSS, HTML
    except OSError as error:
        raise PaperIsMissing(
            "PDF printing needs Pango, which is not installed here; README.md names the packages. "
            "The print view in the browser works without it."
        ) from error
    static = Path(settings.BASE_DIR) / "static"
    sheets = [CSS(filename=str(static / sheet)) for sheet in STYLE_SHEETS]
    sheets.append(CSS(filename=str(static / "css" / f"print_{paper}.css")))
    document = HTML(string=html, url_fetcher=_only_data)
    return bytes(document.write_pdf(stylesheets=sheets, pdf_variant="pdf/ua-1"))


def _only_data(url: str, **options: Any) -> Any:
    """Refuse every address but data: ones; a print needs nothing from anywhere."""
    from weasyprint.urls import default_url_fetcher

    if not url.startswith("data:"):
        raise ValueError(f"prints fetch nothing: {url[:80]}")
    return default_url_fetcher(url, **options)


def pdf_response(content: bytes, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{slugify(name) or "print"}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response
