"""Every address of the house, and how numbers are put into it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

OPEN_PAGES = {"sign_in", "first_run", "sign_out", "health"}
"""The only addresses that people who are not signed in may use."""

TABLET_PAGES = {"tablet", "tablet_seat", "tablet_sign"}
"""They ask for no person but for a device that a teacher has made a bench tablet."""


def addresses(found: Any = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in get_resolver().url_patterns if found is None else found:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, route)
        else:
            yield route, pattern


def sample(route: str) -> str:
    """The route with a number, or a word, in place of each of its arguments."""
    filled = re.sub(r"<(?:int:)?[a-z_]*(?:pk|number|id)>", "1", route)
    return "/" + re.sub(r"<[^>]+>", "x", filled)


ALL = sorted(addresses(), key=lambda pair: pair[0])
OWN = [(route, p) for route, p in ALL if p.name not in OPEN_PAGES | TABLET_PAGES]
AT_TABLETS = [(route, p) for route, p in ALL if p.name in TABLET_PAGES]

BY_FOLDER = {
    "courses": "course",
    "seats": "seat",
    "briefs": "brief",
    "layouts": "layout",
    "projects": "project",
    "patterns": "pattern",
    "plans": "plan",
    "steps": "step",
    "safety/attempts": "attempt",
    "safety/incidents": "incident",
    "safety/permits": "permit",
    "tablets": "tablet",
    "part": "part_step",
    "part/entries": "part_entry",
    "passed-on": "shared",
    "stock-steps": "stock_step",
    "print/bag": "project",
    "print/course": "course",
    "print/courses": "course",
    "print/incidents": "incident",
    "print/parting": "parted",
    "print/pattern": "pattern",
    "print/placement": "plan",
    "print/plan": "plan",
    "print/preparation": "project",
    "print/project": "project",
}
"""What the plain `pk` of an address under this folder is the number of."""

OF_OWN_PLANS = ("plans/<int:pk>/own-layout/", "plans/<int:plan_pk>/relay/")
"""Their plan is one student's own, which came out of a parted sheet."""

OF_NO_COURSE = {
    "bench-words/<slug:kind>": "the school's own words for a step",
    "metals": "the school's metals and prices",
    "metals/prices": "the school's metals and prices",
    "practice/<slug:sheet>": "a practice sheet, the same for everybody",
    "print/erasures": "the school's keeper alone",
    "print/practice/<slug:sheet>": "a practice sheet, the same for everybody",
    "print/printers": "the school's printers",
    "print/safety": "the school's topics, read by everybody in it",
    "rack": "the school's rack, which all its teachers share",
    "rack/counts": "the school's rack",
    "rack/orders": "the school's orders",
    "rack/purchases": "the school's purchases",
    "safety": "the school's topics, read by everybody in it",
    "safety/substances": "the school's list of substances",
    "school/names": "the school's keeper alone",
    "school/teachers": "the school's keeper alone",
    "scrap": "the school's scrap boxes",
    "scrap/sales": "the school's scrap boxes",
    "supplies": "the school's supplies",
    "supplies/entries": "the school's supplies",
    "waiting/<slug:token>": "the errand of one person, whatever their course",
}
"""Folders whose number or word is that of nobody's work in a course, each with its reason."""


def filled(route: str, numbers: dict[str, int]) -> str:
    if route in OF_OWN_PLANS:
        numbers = numbers | {"plan": numbers["own_plan"]}
    named = re.sub(r"<int:([a-z]+)_pk>", lambda found: str(numbers[found[1]]), route)
    for folder, kind in BY_FOLDER.items():
        if named.startswith(f"{folder}/<int:pk>"):
            named = named.replace("<int:pk>", str(numbers[kind]))
    named = re.sub(r"<slug:[a-z]+>", "svg", named)
    assert "<" not in named, f"say what the numbers of {route} are"
    return f"/{named}"
