"""One script module out of a module that imports others, so that a page asks for it once.

Only the forms that our own modules use are understood; anything else is refused when the files
are collected, not found out by a browser.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable
from pathlib import PurePosixPath

IMPORT = re.compile(r'^import (?:\{([^}]*)\} from )?"(\.\.?/[^"]+\.js)";[ \t]*$', re.M)
EXPORT = re.compile(r"^export (?=(?:async function|function|class|const)\b)", re.M)
EXPORTED = re.compile(r"^export (?:async function|function|class|const)\*? (\w+)", re.M)
OTHER_FORM = re.compile(r"^[ \t]*(?:import|export)\b.*$|\bimport[ \t]*[.(].*$", re.M)
COMMENT = re.compile(r"//.*$", re.M)

Read = Callable[[str], str]


def imports_others(text: str) -> bool:
    """Whether this module's text imports another."""
    return IMPORT.search(text) is not None


def join_module(name: str, read: Read) -> str:
    """The module `name` ("js/building/page.js") with all it imports, each in a scope of its own.

    Every module runs once, those that are imported before those that import them, as a browser
    runs them. `read` gives the text of a static file by its name.

    Raises ValueError for modules that import each other, and for imports and exports in a form
    that is not understood.
    """
    order: dict[str, str] = {}
    _gather(name, read, (), order)
    return "".join(order.values())


def _gather(name: str, read: Read, through: tuple[str, ...], order: dict[str, str]) -> None:
    if name in through:
        raise ValueError(f"{name} imports itself, by way of {', '.join(through)}.")
    if name in order:
        return
    text = read(name)
    for found in IMPORT.finditer(text):
        _gather(_target(name, found), read, (*through, name), order)
    order[name] = _in_own_scope(name, text)


def _in_own_scope(name: str, text: str) -> str:
    body = IMPORT.sub(lambda found: _taken(name, found), EXPORT.sub("", text))
    odd = OTHER_FORM.search(COMMENT.sub("", body))
    if odd:
        raise ValueError(f'{name}: "{odd[0].strip()}" is a form that cannot be joined.')
    gives = ", ".join(EXPORTED.findall(text))
    return (
        f"// {PurePosixPath(name).name}\n"
        f"const {_scope(name)} = (() => {{\n{body.rstrip()}\nreturn {{ {gives} }};\n}})();\n"
    )


def _taken(name: str, found: re.Match[str]) -> str:
    if found[1] is None:
        return ""
    return f"const {{{found[1].replace(' as ', ': ')}}} = {_scope(_target(name, found))};"


def _target(name: str, found: re.Match[str]) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(name), found[2]))


def _scope(name: str) -> str:
    return "$" + re.sub(r"\W", "_", name.removesuffix(".js"))
