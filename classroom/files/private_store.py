"""The store of uploaded files: a file is there whole or not at all.

Written under another name first and renamed when it is whole, so that neither a full disk nor a
killed process leaves half a file under a name that a row could bear. `clear_parts` takes away
what a killed process left.
"""

from __future__ import annotations

import os
import secrets
import time
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.files.storage import FileSystemStorage

PART: Final = ".part-"
LEFT_AFTER_SECONDS: Final = 3 * 3600


class PrivateFiles(FileSystemStorage):
    """Files below `EVIDENCE_DIR`, which is asked each time: whoever holds a store agrees on it."""

    def __init__(
        self,
        file_permissions_mode: int | None = None,
        directory_permissions_mode: int | None = None,
    ) -> None:
        super().__init__(
            file_permissions_mode=file_permissions_mode,
            directory_permissions_mode=directory_permissions_mode,
        )

    @property
    def base_location(self) -> str:
        return str(settings.EVIDENCE_DIR)

    @property
    def location(self) -> str:
        return str(Path(self.base_location).absolute())

    def _save(self, name: str, content: Any) -> str:
        part = f"{name}{PART}{secrets.token_hex(6)}"
        try:
            written = super()._save(part, content)  # type: ignore[misc]
            return self._named(written, name)
        finally:
            Path(self.path(part)).unlink(missing_ok=True)

    def _named(self, written: str, name: str) -> str:
        """Give the whole file its name; another one that has it by now is never replaced."""
        while True:
            try:
                _take_name(Path(self.path(written)), Path(self.path(name)))
            except FileExistsError:
                name = self.get_available_name(name)
            else:
                return name.replace("\\", "/")


def _take_name(whole: Path, name: Path) -> None:
    """Raises FileExistsError. A link fails where the name is taken; a rename would replace it."""
    try:
        os.link(whole, name)
    except FileExistsError:
        raise
    except OSError:
        # No links on this file system: the names are random, so nobody else makes this one.
        if name.exists():
            raise FileExistsError(name) from None
        whole.replace(name)


def clear_parts(root: Path) -> int:
    """Remove unfinished files that nobody writes any more; how many there were."""
    gone = 0
    for part in root.rglob(f"*{PART}*"):
        try:
            if time.time() - part.stat().st_mtime > LEFT_AFTER_SECONDS:
                part.unlink()
                gone += 1
        except FileNotFoundError:
            continue
    return gone
