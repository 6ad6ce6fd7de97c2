"""The table of contents of a backup: what lies in it, how long, and by which hash.

It is read from files that may have been made by anybody, so every value is looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

FORMAT: Final = "benchledger-backup"
VERSION: Final = 1
MOST_MEMBERS: Final = 2_000_000
MOST_BYTES: Final = 2**50
KINDS: Final = ("sqlite", "postgresql")

NOTE: Final = "benchledger-backup.txt"
MANIFEST: Final = "manifest.json"
KEY: Final = "secret_key"
DATABASE: Final = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}
EVIDENCE: Final = "evidence/"
MOST_KEY_BYTES: Final = 4096

_SHA = re.compile(r"[0-9a-f]{64}")
_TABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,62}")
_LABEL = re.compile(r"[A-Za-z0-9_]{1,200}")
# Letters that some system takes for a folder, a drive, a stream or the end of a name.
_FORBIDDEN = re.compile(r"[\x00-\x1f\x7f\\:*?\"<>|]")


class Odd(ValueError):
    """A value that no backup of ours holds."""


@dataclass(frozen=True, slots=True)
class Member:
    """One content: its name in the file, its bytes and hash, and the path it had as evidence."""

    name: str
    size: int
    sha256: str
    path: str = ""


@dataclass(frozen=True, slots=True)
class Manifest:
    made_at: str
    why: str
    kind: str
    tables: dict[str, int]
    migrations: tuple[tuple[str, str], ...]
    members: tuple[Member, ...]
    missing: tuple[str, ...]

    @property
    def database(self) -> Member:
        return self._named(DATABASE[self.kind])

    @property
    def key(self) -> Member:
        return self._named(KEY)

    @property
    def evidence(self) -> dict[str, Member]:
        """Path to member; where a path was copied twice, the later copy counts."""
        return {member.path: member for member in self.members if member.path}

    def _named(self, name: str) -> Member:
        return next(member for member in self.members if member.name == name)

    def to_json(self) -> dict[str, Any]:
        return {
            "format": FORMAT,
            "version": VERSION,
            "made_at": self.made_at,
            "why": self.why,
            "database": {"kind": self.kind, "tables": self.tables},
            "migrations": [list(each) for each in self.migrations],
            "members": [
                {"name": one.name, "size": one.size, "sha256": one.sha256}
                | ({"path": one.path} if one.path else {})
                for one in self.members
            ],
            "missing": list(self.missing),
        }


def manifest_from_json(data: Any) -> Manifest:
    """Raises Odd for anything that `Manifest.to_json` would not have written."""
    try:
        return _from_json(data)
    except (KeyError, TypeError, AttributeError, IndexError) as error:
        raise Odd("its table of contents lacks something") from error


def is_ours(data: Any) -> bool:
    return isinstance(data, dict) and data.get("format") == FORMAT


def _from_json(data: Any) -> Manifest:
    _wanted(is_ours(data), "its table of contents is not one of Benchledger")
    version = data["version"]
    _wanted(isinstance(version, int) and version >= 1, "it has no version")
    _wanted(version <= VERSION, f"it is in version {version} of the format")
    kind = data["database"]["kind"]
    _wanted(kind in KINDS, "its kind of database is not known")
    members = tuple(_member(each) for each in _list(data["members"]))
    names = [member.name for member in members]
    _wanted(len(set(names)) == len(names), "it names a content twice")
    _wanted({DATABASE[kind], KEY} <= set(names), "database or key are not in it")
    _wanted(all(member.size <= MOST_KEY_BYTES for member in members if member.name == KEY), "key")
    tables = {
        _text(name, _TABLE): _count(count) for name, count in data["database"]["tables"].items()
    }
    return Manifest(
        made_at=_text(data["made_at"], re.compile(r"[0-9T:+.Z-]{10,40}")),
        why=_text(data["why"], re.compile(r"[a-z_]{1,20}")),
        kind=kind,
        tables=tables,
        migrations=tuple(
            (_text(app, _LABEL), _text(name, _LABEL)) for app, name in _list(data["migrations"])
        ),
        members=members,
        missing=tuple(safe_path(path) for path in _list(data["missing"])),
    )


def _member(data: Any) -> Member:
    path = data.get("path", "")
    if "path" in data:
        safe_path(path)
        _wanted(data["name"].startswith(EVIDENCE), "evidence lies elsewhere in it")
    return Member(safe_path(data["name"]), _count(data["size"]), _text(data["sha256"], _SHA), path)


def safe_path(path: Any) -> str:
    """A path that stays inside the folder it is put into, on every system. Raises Odd."""
    _wanted(isinstance(path, str) and 0 < len(path) <= 240, "a file's name is too long or empty")
    parts = path.split("/")
    bad = _FORBIDDEN.search(path) or any(
        part in {"", ".", ".."} or part.endswith((".", " ")) for part in parts
    )
    _wanted(not bad, "a file's name leads out of its folder")
    try:
        path.encode()
    except UnicodeEncodeError as error:
        raise Odd("a file's name is no text") from error
    return str(path)


def is_safe(path: str) -> bool:
    try:
        safe_path(path)
    except Odd:
        return False
    return True


def _list(value: Any) -> Iterable[Any]:
    _wanted(isinstance(value, list) and len(value) <= MOST_MEMBERS, "a list in it is too long")
    return value  # type: ignore[no-any-return]


def _text(value: Any, form: re.Pattern[str]) -> str:
    _wanted(isinstance(value, str) and form.fullmatch(value) is not None, "a word in it is odd")
    return str(value)


def _count(value: Any) -> int:
    good = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST_BYTES
    _wanted(good, "a number in it is odd")
    return int(value)


def _wanted(good: bool, otherwise: str) -> None:
    if not good:
        raise Odd(otherwise)
