"""A project of the owner that waits for its pattern."""

from __future__ import annotations

import pytest
from django.test import Client

from studio.models import Project
from tests.people import Cast, signed_in
from tests.studio.patterns.making import make_project


@pytest.fixture
def project(cast: Cast) -> Project:
    return make_project(cast)


@pytest.fixture
def client(cast: Cast) -> Client:
    """The browser of the student whose project it is."""
    return signed_in(cast.owner)
