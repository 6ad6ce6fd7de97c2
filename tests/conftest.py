"""Fixtures that more than one folder of tests needs."""

from __future__ import annotations

from typing import Any

import pytest

from .people import Cast, make_cast


@pytest.fixture
def cast(db: Any) -> Cast:
    return make_cast()
