"""A process that answers pages, as the server makes it."""

from __future__ import annotations

import subprocess
import sys

from .house import ROOT

BEFORE_THE_FIRST_READER = """
import django, os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
from studio.running import web
web.load()
print("studio.views.bench" in sys.modules)
"""


def test_every_view_is_loaded_before_the_first_reader_comes() -> None:
    """Else the first page in each process, after each start, takes most of a second more."""
    said = subprocess.run(
        [sys.executable, "-c", BEFORE_THE_FIRST_READER],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    ).stdout
    assert said == "True\n"
