"""Do people meet a barrier on this page? By axe's rules for WCAG 2.2, A and AA."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def no_barriers(visitor: Any) -> None:
    """Without axe's `preload`, which writes the sheets' imports into the page, so that the browser
    complains of its content security policy. The one rule that wants it asks whether a sheet locks
    the page's orientation; tests/house/test_look.py asks the sheets themselves."""
    options = {"runOnly": {"type": "tag", "values": TAGS}, "preload": False}
    found = Axe().run(visitor.page, options=options)
    assert found.violations_count == 0, found.generate_report()
