"""A disk that is full: known by its errors, and told in words."""

from __future__ import annotations

import errno
import sqlite3

from django.utils.translation import gettext

PAGE_STATUS = 507
"""Insufficient Storage (RFC 4918, 11.5)."""


def is_full(error: BaseException | None) -> bool:
    """Whether the disk, or the share of it that one may use, is used up.

    Databases tell it by errors of their own, which Django wraps in others.
    """
    seen = 0
    while error is not None and seen < 8:
        if isinstance(error, OSError) and error.errno in {errno.ENOSPC, errno.EDQUOT}:
            return True
        if isinstance(error, sqlite3.OperationalError) and "disk is full" in str(error):
            return True
        if getattr(error, "sqlstate", None) == "53100":  # disk_full, PostgreSQL manual, appendix A
            return True
        error, seen = error.__cause__ or error.__context__, seen + 1
    return False


def words() -> str:
    return gettext(
        "The school's disk is full. Nothing was saved, and nothing that was saved before is lost. "
        "Tell whoever looks after the server; when there is room again, send it once more."
    )
