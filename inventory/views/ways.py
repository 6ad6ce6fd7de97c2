"""The way round the rack's pages: the row of links under the title."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

PAGES = (
    ("Rack", "rack"),
    ("Metals and prices", "metals"),
    ("Purchases", "purchases"),
    ("Supplies", "supplies"),
    ("Scrap boxes", "scrap_boxes"),
    ("Stock counts", "stock_counts"),
)


def rack_ways(current: str) -> list[dict[str, Any]]:
    """Links to the rack's pages, the one we are on marked."""
    return [
        {"label": label, "url": reverse(name), "current": name == current} for label, name in PAGES
    ]


def crumbs(*steps: tuple[str, str] | str) -> list[dict[str, Any]]:
    """Rack, then the steps (label and address), then this page (label only)."""
    trail: list[dict[str, Any]] = [{"label": "Rack", "url": reverse("rack")}]
    for step in steps:
        label, url = step if isinstance(step, tuple) else (step, "")
        trail.append({"label": label, "url": url} if url else {"label": label})
    return trail
