"""Small sources, few files for the browser: sheets and script modules are joined when collected."""

from __future__ import annotations

import posixpath
import re
from pathlib import Path

import pytest

from studio.static_files.modules import imports_others, join_module
from studio.static_files.sheets import as_data, join_sheet

STATIC = Path(__file__).resolve().parents[2] / "static"
TEMPLATES = STATIC.parent / "templates"
SCREEN = STATIC / "css" / "screen.css"
MODULES = sorted((STATIC / "js").rglob("*.js"))


def name_of(path: Path) -> str:
    return path.relative_to(STATIC).as_posix()


def source(name: str) -> str:
    return (STATIC / name).read_text()


def test_a_sheet_gets_what_it_imports_in_order() -> None:
    sheets = {
        "css/all.css": '/* all */\n@import url("one.css");\n@import url("two.css");\n',
        "css/one.css": ".a { color: red; }\n",
        "css/two.css": '@import url("three.css");\n.a { color: blue; }\n',
        "css/three.css": ".a { color: green; }\n",
    }
    joined = join_sheet("css/all.css", sheets.__getitem__)
    assert re.findall(r"color: (\w+)", joined) == ["red", "green", "blue"]
    assert "@import" not in joined


def test_addresses_of_an_imported_sheet_lead_to_the_same_file() -> None:
    large = f"<svg>{'<path/>' * 200}</svg>"
    sheets = {
        "css/all.css": '@import url("parts/one.css");\n',
        "css/parts/one.css": ".a { mask: url('../../img/large.svg'); fill: url(\"#hatch\"); }\n"
        ".b { background: url(photo.jpg) }\n",
        "img/large.svg": large,
    }
    joined = join_sheet("css/all.css", sheets.__getitem__)
    assert 'url("../img/large.svg")' in joined
    assert 'url("parts/photo.jpg")' in joined
    assert 'url("#hatch")' in joined


def test_a_small_picture_is_written_into_the_sheet() -> None:
    mark = '<svg viewBox="0 0 9 9"><path d="M0 0(9)" fill="#000"/></svg>'
    sheets = {"css/all.css": '.a { mask: url("../img/mark.svg") }', "img/mark.svg": mark + "\n"}
    joined = join_sheet("css/all.css", sheets.__getitem__)
    assert joined == f'.a {{ mask: url("{as_data(mark)}") }}'
    inside = joined.partition('url("')[2].partition('")')[0]
    assert not re.search(r"""["'()#<>]""", inside)


@pytest.mark.parametrize(
    "text",
    [
        "@import 'one.css';",
        '@import url("one.css") print;',
        '@import url("https://a.example/b.css");',
    ],
)
def test_an_import_in_another_form_is_refused_with_the_right_one(text: str) -> None:
    with pytest.raises(ValueError, match=re.escape('as @import url("x.css"); on a line')):
        join_sheet("css/all.css", {"css/all.css": text}.__getitem__)


def test_sheets_that_import_each_other_are_refused() -> None:
    sheets = {"css/a.css": '@import url("b.css");\n', "css/b.css": '@import url("a.css");\n'}
    with pytest.raises(ValueError, match=r"css/a\.css imports itself, by way of"):
        join_sheet("css/a.css", sheets.__getitem__)


def test_a_module_gets_what_it_imports_once_and_first() -> None:
    modules = {
        "js/top.js": 'import { b as other } from "./b.js";\nimport { a } from "./a.js";\n'
        "export function top() { return a + other(); }\n",
        "js/a.js": 'import "./deep.js";\nexport const a = 1;\n',
        "js/b.js": 'import { a } from "./a.js";\nexport async function b() { return a; }\n',
        "js/deep.js": "let hidden = 1;\n",
    }
    joined = join_module("js/top.js", modules.__getitem__)
    assert re.findall(r"^// (\w+)\.js$", joined, re.M) == ["deep", "a", "b", "top"]
    assert not re.search(r"^\s*(import|export)\b", joined, re.M)
    assert "const { b: other } = $js_b;" in joined
    assert "return { a };" in joined


@pytest.mark.parametrize(
    "line",
    [
        'export * from "./b.js";',
        "export default 3;",
        "export let changing = 1;",
        'import whole from "./b.js";',
        'import { a } from "somewhere";',
        'const late = import("./b.js");',
        "const where = import.meta.url;",
    ],
)
def test_a_form_that_cannot_be_joined_is_refused(line: str) -> None:
    modules = {"js/top.js": f'import "./b.js";\n{line}\n', "js/b.js": ""}
    with pytest.raises(ValueError, match="is a form that cannot be joined"):
        join_module("js/top.js", modules.__getitem__)


def test_modules_that_import_each_other_are_refused() -> None:
    modules = {"js/a.js": 'import "./b.js";\n', "js/b.js": 'import "./a.js";\n'}
    with pytest.raises(ValueError, match=r"js/a\.js imports itself, by way of"):
        join_module("js/a.js", modules.__getitem__)


def screen_sheets() -> list[str]:
    return re.findall(r'^@import url\("(.+)"\);$', SCREEN.read_text(), re.M)


def test_the_screen_sheet_holds_every_sheet_that_is_not_for_paper() -> None:
    folder = SCREEN.parent
    others = {path.relative_to(folder).as_posix() for path in folder.rglob("*.css")} - {SCREEN.name}
    paper = {name for name in others if name.startswith("print") or name.endswith("_print.css")}
    assert sorted(screen_sheets()) == sorted(others - paper)
    assert screen_sheets()[0] == "tokens.css"  # it names the layers in their order


def selectors(name: str) -> list[set[str]]:
    """The classes of each selector of a sheet."""
    text = re.sub(r"/\*.*?\*/", "", source(f"css/{name}"), flags=re.S)
    heads = re.findall(r"([^{};]+)\{", text)
    parts = [part for head in heads if not head.strip().startswith("@") for part in head.split(",")]
    return [set(re.findall(r"\.([a-zA-Z][\w-]*)", part)) for part in parts]


def test_no_two_sheets_of_single_pages_style_the_same_class() -> None:
    """All sheets are on every page: what one page means by a class must not reach another's."""
    sheets = screen_sheets()
    pages = sheets[sheets.index("helpers.css") + 1 :]
    common = {word for name in sheets if name not in pages for s in selectors(name) for word in s}
    used = {name: {word for s in selectors(name) for word in s} - common for name in pages}
    for name in pages:
        elsewhere = set().union(*(used[other] for other in pages if other != name))
        own = used[name] - elsewhere
        # A selector without a class of this sheet alone is the one home of the classes in it.
        at_home = {word for s in selectors(name) if not s & own for word in s} - common
        for other in pages:
            if other != name:
                abroad = {
                    word
                    for s in selectors(other)
                    if not s & (used[other] - used[name])
                    for word in s
                }
                assert not at_home & abroad, (name, other)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: name_of(path))
def test_every_module_of_ours_can_be_joined(path: Path) -> None:
    name = name_of(path)
    if imports_others(path.read_text()):
        assert not re.search(r"^import\b", join_module(name, source), re.M)
    else:
        assert not re.search(r"^\s*import\b|\bimport\(", path.read_text(), re.M)


def imported(name: str) -> set[str]:
    """The module and all that it imports."""
    found = re.findall(r'^import .*?"(\.\.?/[^"]+)";$', source(name), re.M)
    beside = posixpath.dirname(name)
    return {name}.union(*(imported(posixpath.normpath(f"{beside}/{one}")) for one in found))


def scripts_by_template() -> dict[str, set[str]]:
    """Which of our modules a template names, those of the templates that it extends as well."""
    texts = {
        path.relative_to(TEMPLATES).as_posix(): path.read_text()
        for path in TEMPLATES.rglob("*.html")
    }

    def named(name: str) -> set[str]:
        own = set(re.findall(r"static '(js/[^']+\.js)'", texts[name]))
        above = re.match(r'{% extends "([^"]+)"', texts[name])
        return own | (named(above[1]) if above else set())

    return {name: named(name) for name in texts}


def test_no_page_gets_a_module_twice() -> None:
    """Two joined scripts on a page would each have their own copy of a module, and its state."""
    for template, scripts in scripts_by_template().items():
        seen: dict[str, str] = {}
        for script in sorted(scripts):
            for name in imported(script):
                assert name not in seen, f"{template}: {name} is in {seen[name]} and in {script}"
                seen[name] = script


def test_a_page_names_its_scripts_itself() -> None:
    """Not by way of what it includes, so that the test above sees them all.

    What is included may be named by a variable, so no part may hold a script: a template is a
    part where it extends nothing and is no page's frame.
    """
    texts = {path: path.read_text() for path in TEMPLATES.rglob("*.html")}
    extended = {
        name for text in texts.values() for name in re.findall(r'{% extends "([^"]+)"', text)
    }
    with_scripts = [
        name
        for path, text in texts.items()
        if (name := path.relative_to(TEMPLATES).as_posix()) not in extended
        and "{% extends " not in text
        and re.search(r"<script|'js/", text)
    ]
    assert with_scripts == []


def test_every_module_of_ours_is_on_a_page() -> None:
    wanted = set().union(*scripts_by_template().values())
    assert set().union(*map(imported, wanted)) == set(map(name_of, MODULES))
