"""A teacher at the desk."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.people import Cast


@pytest.fixture
def desk(cast: Cast, client: Client) -> Client:
    """The browser of the course's teacher."""
    client.force_login(cast.teacher)
    return client
