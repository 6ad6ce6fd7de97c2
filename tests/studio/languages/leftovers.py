"""What of a page has stayed English? Its texts, read as a screen reader would."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

from classroom.catalogs import FORM, po_of, read_po

SPOKEN = {"alt", "aria-label", "title", "placeholder", "data-confirm", "data-confirm-button"}
SILENT = {"script", "style"}
VOID = {"meta", "link", "img", "input", "br", "hr", "path", "circle", "rect", "line", "use", "wbr"}
ENGLISH = re.compile(
    r"\b(the|of|and|is|are|with|your|you|from|this|that|for|not|been|it|yet|at|by|to|an|was|its|"
    r"when|before|after|step|permit|metal piece|teacher|student|none|back|open|sign|print)\b",
    re.IGNORECASE,
)
"""Words that no Spanish sentence of ours has."""
ALIKE = {"no"}  # as a table's "No." it is English, as an answer it is both


def translations() -> dict[str, str]:
    """English text to Spanish, where the two differ; the first form of those with a plural."""
    entries = read_po(po_of("es").read_text(encoding="utf-8"))
    pairs = ((one.split(FORM)[0], other.split(FORM)[0]) for one, other in entries.items() if one)
    return {one: other for one, other in pairs if one != other}


class _Texts(HTMLParser):
    """Text nodes and spoken attributes outside of elements that are marked as another language."""

    def __init__(self) -> None:
        super().__init__()
        self.stack: list[tuple[str, str]] = []
        self.found: list[str] = []

    @property
    def language(self) -> str:
        return self.stack[-1][1] if self.stack else ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        language = given.get("lang") or self.language
        for name, value in given.items():
            if value and language == "es" and (name in SPOKEN or _is_said(tag, name)):
                self.found.append(value)
        if tag not in VOID:
            self.stack.append((tag, language))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.stack:
            if self.stack.pop()[0] == tag:
                return

    def handle_data(self, data: str) -> None:
        if self.language == "es" and self.stack[-1][0] not in SILENT and data.strip():
            self.found.append(" ".join(data.split()))


def _is_said(tag: str, name: str) -> bool:
    return tag == "template" and name.startswith("data-")


def texts_of(page: str) -> list[str]:
    reader = _Texts()
    reader.feed(page)
    return reader.found


def english_in(page: str, own: list[str]) -> Iterator[str]:
    """Texts of the page that are English. `own` are the school's own words, left out of it."""
    known = {one.strip(" :.").lower() for one in translations()} - ALIKE
    for text in texts_of(page):
        for word in sorted(own, key=len, reverse=True):
            text = text.replace(word, "…")
        if text.strip(" :.").lower() in known or ENGLISH.search(text):
            yield text
