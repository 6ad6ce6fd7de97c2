"""What caused an entry or a movement? Its name, and its page where one exists."""

from __future__ import annotations

from django.urls import NoReverseMatch, reverse

# The thing's model, its name in words, and the name of its page.
_PAGES = {
    "cutplan": ("cut plan", "plan"),
    "project": ("project", "project"),
    "scrapsale": ("scrap sale", "scrap_sale"),
    "stockcount": ("stock count", "stock_count"),
}


def cause_link(cause: str) -> dict[str, str] | None:
    """Label and address for a cause such as "cutplan:12"; None where there is no page for it."""
    model, _, pk = cause.partition(":")
    if model not in _PAGES or not pk.isdecimal():
        return None
    words, page = _PAGES[model]
    try:
        return {"label": f"{words} {pk}", "url": reverse(page, args=[int(pk)])}
    except NoReverseMatch:
        return None
