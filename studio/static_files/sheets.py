"""One style sheet out of a sheet that imports others."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable
from urllib.parse import quote

IMPORT = re.compile(r'^@import url\("([^":]+)"\);[ \t]*$', re.M)
ANY_IMPORT = re.compile(r"^\s*@import\b.*$", re.M)
ADDRESS = re.compile(r"""url\(\s*["']?([^"'#:)]+)(#[^"')]*)?["']?\s*\)""")
MOST_BYTES_WRITTEN_IN = 1000
"""A picture up to this size costs less inside the sheet than a request of its own."""

Read = Callable[[str], str]


def join_sheet(name: str, read: Read) -> str:
    """The sheet `name` with its imports in their places, as the cascade would have them.

    `read` gives the text of a static file by its name ("css/base.css"). Small SVG pictures are
    written in as `data:`, other addresses are made relative to `name`.

    Raises ValueError for an import in any other form than `@import url("x.css");` on a line of
    its own, and for sheets that import each other.
    """
    return _joined(name, posixpath.dirname(name), read, ())


def _joined(name: str, home: str, read: Read, through: tuple[str, ...]) -> str:
    if name in through:
        raise ValueError(f"{name} imports itself, by way of {', '.join(through)}.")
    folder = posixpath.dirname(name)
    text = read(name)
    odd = ANY_IMPORT.search(IMPORT.sub("", text))
    if odd:
        raise ValueError(f'{name}: write "{odd[0].strip()}" as @import url("x.css"); on a line.')

    def placed(found: re.Match[str]) -> str:
        target = posixpath.normpath(posixpath.join(folder, found[1].strip()))
        if target.endswith(".svg") and not found[2]:
            picture = read(target).strip()
            if len(picture.encode()) <= MOST_BYTES_WRITTEN_IN:
                return f'url("{as_data(picture)}")'
        return f'url("{posixpath.relpath(target, home or ".")}{found[2] or ""}")'

    own, *imports = IMPORT.split(text)
    out = [ADDRESS.sub(placed, own)]
    for address, rest in zip(imports[::2], imports[1::2], strict=True):
        other = posixpath.normpath(posixpath.join(folder, address))
        out.append(_joined(other, home, read, (*through, name)).rstrip("\n"))
        out.append(ADDRESS.sub(placed, rest))
    return "".join(out)


def as_data(svg: str) -> str:
    """An SVG picture as an address that holds it whole."""
    return "data:image/svg+xml," + quote(svg, safe="/:;=, ")
