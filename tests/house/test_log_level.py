"""How much the log tells is said once (`BENCHLEDGER_LOG`), and counts for all of it."""

from __future__ import annotations

import logging

import pytest


@pytest.mark.parametrize("name", ["django.request", "django.security", "studio"])
def test_the_level_that_was_set_counts_for(name: str, caplog: pytest.LogCaptureFixture) -> None:
    logger = logging.getLogger(name)
    with caplog.at_level("ERROR"):
        assert not logger.isEnabledFor(logging.WARNING)
    with caplog.at_level("INFO"):
        assert logger.isEnabledFor(logging.INFO)
