"""A teacher at the desk."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.people import Cast, signed_in


@pytest.fixture
def client(cast: Cast) -> Client:
    """The browser of the course's teacher."""
    return signed_in(cast.teacher)
