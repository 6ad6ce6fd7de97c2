"""A class at work: its morning, its metal and its plans."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.test import Client

from studio.models import Project
from tests.clocks import MORNING, stopped_at
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_world
from tests.studio.patterns.making import make_project

clock = stopped_at(MORNING)


@pytest.fixture
def world(clock: time_machine.Traveller, cast: Cast) -> World:
    """Copper, two sheets of 120 × 80 mm, a brief, and money, at ten in the morning."""
    return make_world(cast)


@pytest.fixture
def evidence(settings: Any, tmp_path: Path) -> Path:
    """The folder of uploaded files, of this test alone."""
    folder = tmp_path / "evidence"
    folder.mkdir()
    settings.EVIDENCE_DIR = folder
    return folder


@pytest.fixture
def project(cast: Cast) -> Project:
    """The owner's, without a pattern."""
    return make_project(cast)


@pytest.fixture
def own_desk(cast: Cast) -> Client:
    """The browser of the student whose project it is."""
    return signed_in(cast.owner)
