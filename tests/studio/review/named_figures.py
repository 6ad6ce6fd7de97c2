"""Reads the named figures off a page: elements with `data-figure`, labels in pictures, bars."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"br", "img", "input", "hr", "meta", "link", "col", "source", "wbr"}


class Page(HTMLParser):
    """`figures` are (name, text) in order, `labels` the texts in pictures, `bars` their values."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.figures: list[tuple[str, str]] = []
        self.labels: list[str] = []
        self.bars: list[str] = []
        self._words: list[str] = []
        self._open: list[tuple[str, str, int]] = []
        self.feed(page.decode())
        self.close()

    @property
    def words(self) -> str:
        return " ".join("".join(self._words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in VOID:
            return
        given = dict(attrs)
        what = ""
        if "data-figure" in given:
            what = f"figure:{given['data-figure']}"
        elif tag == "text":
            what = "label"
        elif given.get("class") == "chart-value":
            what = "bar"
        self._open.append((tag, what, len(self._words)))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element without content has nothing to tell."""

    def handle_endtag(self, tag: str) -> None:
        while self._open:
            name, what, begin = self._open.pop()
            text = " ".join("".join(self._words[begin:]).split())
            kind, _, figure = what.partition(":")
            if kind == "figure":
                self.figures.append((figure, text))
            elif kind == "label":
                self.labels.append(text)
            elif kind == "bar":
                self.bars.append(text)
            if name == tag:
                return

    def handle_data(self, data: str) -> None:
        self._words.append(data)
