"""The project stands by itself: what code, tests and guides cite is here to be read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
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
MOST_READ = "DEVELOPERS" + ".md"
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


GUIDES = sorted(
    path.relative_to(ROOT).as_posix() for path in texts() if path.name in ("README.md", MOST_READ)
)
CODE_BLOCK = re.compile(r"^```.*?^```", re.MULTILINE | re.DOTALL)
IN_BACKTICKS = re.compile(r"`([^`\n]+)`")
PATH = re.compile(r"(?:[\w-]+/)*[\w.-]+")
OURS = ("studio", "inventory", "classroom", "tests", "templates", "static")
"""Where paths and modules of ours begin; `var/engine` and `application/pdf` begin elsewhere."""
NAMED_FILE = re.compile(r"[\w.-]+\.(?:py|js|css|html|svg|toml|po)")
NAME = re.compile(r"[A-Za-z_]\w*")


@cache
def names_in_code() -> frozenset[str]:
    """Every word of our programs: what a guide names in backticks is one of them."""
    words: set[str] = set()
    for path in texts():
        if path.suffix in (".py", ".js", ".html"):
            words.update(NAME.findall(path.read_text(encoding="utf-8")), (path.stem,))
    return frozenset(words)


def not_there(token: str, guide: Path) -> str | None:
    """What of a name in backticks is not in the project: a path, a module, or what a module has."""
    if "/" in token and PATH.fullmatch(token) and token.split("/")[0] in OURS:
        rooms = (ROOT, ROOT / "templates", ROOT / "static")  # pages name templates without theirs
        return None if any((room / token).exists() for room in rooms) else token
    if PATH.fullmatch(token) and "/" in token:
        return None if (guide.parent / token).exists() or not NAMED_FILE.search(token) else token
    if NAMED_FILE.fullmatch(token):
        places = (guide.parent, ROOT / "static")
        found = any((ROOT / token).exists() or any(place.rglob(token)) for place in places)
        return None if found else token
    parts = token.split(".")
    if parts[0] in OURS and len(parts) > 1 and all(NAME.fullmatch(part) for part in parts):
        modules = (ROOT.joinpath(*parts), ROOT.joinpath(*parts[:-1]))  # the last: what it has
        there = any(one.is_dir() or one.with_suffix(".py").is_file() for one in modules)
        return next(
            (one for one in parts[1:] if one not in names_in_code()), None if there else token
        )
    if all(NAME.fullmatch(part) for part in parts):
        return next((part for part in parts if part not in names_in_code()), None)
    return None


@pytest.mark.parametrize("guide", GUIDES)
def test_what_a_guide_names_is_in_the_project(guide: str) -> None:
    text = CODE_BLOCK.sub("", (ROOT / guide).read_text(encoding="utf-8"))
    missing = [
        gone for token in IN_BACKTICKS.findall(text) if (gone := not_there(token, ROOT / guide))
    ]
    assert missing == []


OURS_IN_CODE = re.compile(  # in backticks a module or a path, in plain words a file
    rf"""`((?:{"|".join(OURS)})(?:[./][\w./-]+)+)`
    |(?<![\w/.])((?:{"|".join(OURS)})/[\w./-]+\.(?:py|js|css|html|svg))\b""",
    re.VERBOSE,
)


def test_what_comments_and_docstrings_name_is_in_the_project() -> None:
    """A module that has moved takes along who speaks of it."""
    missing = [
        f"{path.relative_to(ROOT)}: {gone}"
        for path in texts()
        if path.suffix in (".py", ".js", ".css") and "migrations" not in path.parts
        for found in OURS_IN_CODE.finditer(path.read_text(encoding="utf-8"))
        if (gone := not_there(found[1] or found[2], path))
    ]
    assert missing == []


def test_a_name_that_is_not_there_is_seen() -> None:
    here = ROOT / "studio" / "README.md"
    gone = "gone" + "_away"
    for name in (f"studio/{gone}", f"models/{gone}.py", f"{gone}.py", f"studio.{gone}", gone):
        assert not_there(name, here) is not None, name
    for name in ("studio/models", "models/plan.py", "plan.py", "studio.models.plan", "CutPlan"):
        assert not_there(name, here) is None, name


def test_the_guide_for_developers_is_read_in_one_sitting() -> None:
    """What explains one part stands beside that part."""
    assert len((ROOT / MOST_READ).read_text(encoding="utf-8")) <= 12_000
    for guide in GUIDES:
        assert len((ROOT / guide).read_text(encoding="utf-8")) <= 13_000, guide


def test_the_picture_in_the_readme_is_there_and_no_page_serves_it() -> None:
    (picture,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", (ROOT / "README.md").read_text("utf-8"))
    assert (ROOT / picture).stat().st_size < 150_000
    assert not picture.startswith("static/")  # what lies there is collected and served


@pytest.mark.parametrize("app", ["classroom", "inventory", "studio"])
def test_every_room_says_what_it_is_for(app: str) -> None:
    silent = [
        str(package.relative_to(ROOT))
        for package in (ROOT / app).rglob("__init__.py")
        if "migrations" not in package.parts
        and not package.read_text(encoding="utf-8").startswith('"""')
    ]
    assert silent == []
