"""The project stands by itself: what code, tests and guides cite is here to be read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

ROOT = Path(settings.BASE_DIR)
NOT_OURS = {"var", "test-results", "__pycache__", "node_modules"}
TEXTS = {
    *("", ".py", ".md", ".toml", ".txt", ".html", ".css", ".js", ".svg", ".po", ".cfg", ".ini"),
    *(".sh", ".yml", ".yaml", ".json"),
}
CITED = re.compile(
    r"""(?<![\w/:.-]) ((?:[\w-][\w.-]*/)*[\w-][\w.-]*\.md)\b  # the file, not one of an address
    (?:\)?,\s*["“]([^"”\n]+)["”])?                          # a section in quotes behind it""",
    re.VERBOSE,
)
HEADING = re.compile(r"^#+ +(.+?) *$", re.MULTILINE)


def texts() -> Iterator[Path]:
    """Every text of the project, also in folders such as .ci and .requirements."""
    for folder, names, files in os.walk(ROOT):
        top = Path(folder) == ROOT
        names[:] = [
            name
            for name in names
            if name not in NOT_OURS and not (name.startswith(".") and not (top and ours(name)))
        ]
        yield from (Path(folder) / name for name in files if Path(name).suffix in TEXTS)


def ours(name: str) -> bool:
    """Whether a hidden folder at the top is the project's, not a tool's."""
    return name in (".ci", ".requirements")


def citations(text: str) -> Iterator[tuple[str, str | None]]:
    """Guides that a text names, each with the section that is named in quotes behind it."""
    plain = re.sub(r"\s*\n\s*(?:#|\*|//)?\s*", " ", text)  # a comment's next line goes on
    for found in CITED.finditer(plain):
        yield found[1], found[2]


def test_citations_are_seen_with_their_sections() -> None:
    gone = "gone" + ".md"
    text = (
        f'# as {gone} says\n# and docs/{gone}, "Two\n#   words", but not https://a.example/{gone}'
    )
    assert list(citations(text)) == [(gone, None), (f"docs/{gone}", "Two words")]


def test_every_guide_that_is_cited_is_in_the_project_and_has_the_section() -> None:
    seen = 0
    for path in texts():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        for name, section in citations(text):
            seen += 1
            where = path.relative_to(ROOT)
            guide = next((p for p in (ROOT / name, path.parent / name) if p.is_file()), None)
            assert guide is not None, f"{where} cites {name}, which is not in the project"
            if section is not None:
                headings = HEADING.findall(guide.read_text(encoding="utf-8"))
                assert section.rstrip(",.") in headings, f"{where}: {name} has no “{section}”"
    assert seen >= 10  # the guides do name each other
