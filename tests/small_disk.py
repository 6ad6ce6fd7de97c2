"""A disk so small that it fills up while a test looks on."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk_in(folder: Path, size: str) -> Iterator[Path]:
    """A disk of that size ("1m" is a megabyte), mounted under `folder` while this lasts."""
    small = folder / "small"
    small.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(small)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("A small disk is a mounted tmpfs, which only root may make.")
    try:
        yield small
    finally:
        subprocess.run(["umount", "-l", str(small)], check=True)
