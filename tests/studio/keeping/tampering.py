"""Backups as somebody hostile would make them: changed, and sealed again as if they were ours."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

Contents = dict[str, bytes]


def tampered(backup: Path, to: Path, change: Callable[[dict[str, Any], Contents], None]) -> Path:
    """`change` is given the table of contents and the contents, and changes both in place."""
    with zipfile.ZipFile(backup) as archive:
        contents = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(contents.pop("manifest.json"))
    change(manifest, contents)
    with zipfile.ZipFile(to, "w") as archive:
        for name, data in contents.items():
            archive.writestr(name, data)
        archive.writestr("manifest.json", json.dumps(manifest))
        archive.comment = b"0" * 64
    data = to.read_bytes()
    to.write_bytes(data[:-64] + hashlib.sha256(data[:-64]).hexdigest().encode())
    return to


def put(manifest: dict[str, Any], contents: Contents, name: str, data: bytes) -> None:
    """Another content under a name that is in the backup, with its size and hash put right."""
    contents[name] = data
    for member in manifest["members"]:
        if member["name"] == name:
            member.update(size=len(data), sha256=hashlib.sha256(data).hexdigest())
