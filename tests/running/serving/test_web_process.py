"""A process that answers pages, as the server makes it."""

from __future__ import annotations

from tests.running.house import said_by

BEFORE_THE_FIRST_READER = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
from studio.serving import web
web.load()
print("studio.views.bench.pages" in sys.modules)
"""


def test_every_view_is_loaded_before_the_first_reader_comes() -> None:
    """Else the first page in each process, after each start, takes most of a second more."""
    assert said_by(BEFORE_THE_FIRST_READER) == "True\n"
