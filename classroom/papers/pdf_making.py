"""A print's HTML becomes a tagged PDF (PDF/UA-1), every length true. It knows no Django.

WeasyPrint is imported late, so that the app runs without Pango and can say what to install.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

STATIC = Path(__file__).resolve().parents[2] / "static"
STYLE_SHEETS = ("css/print.css", "css/print_sheets.css")


class NoPango(RuntimeError):
    """The machine lacks the libraries that make PDF."""


def make_pdf(html: str, paper: str) -> bytes:
    """`paper` is "a4" or "letter". Raises NoPango."""
    try:
        from weasyprint import CSS, HTML
    except OSError as error:
        raise NoPango from error
    sheets = [CSS(filename=str(STATIC / sheet)) for sheet in STYLE_SHEETS]
    sheets.append(CSS(filename=str(STATIC / "css" / f"print_{paper}.css")))
    document = HTML(string=html, url_fetcher=_only_data)
    return bytes(document.write_pdf(stylesheets=sheets, pdf_variant="pdf/ua-1"))


def _only_data(url: str, **options: Any) -> Any:
    """Refuse every address but data: ones; a print needs nothing from anywhere."""
    from weasyprint.urls import default_url_fetcher

    if not url.startswith("data:"):
        raise ValueError(f"prints fetch nothing: {url[:80]}")
    return default_url_fetcher(url, **options)
