"""A topic of the school's safety lessons."""

from __future__ import annotations

import pytest

from classroom.models import Topic
from classroom.safety.topics import seed_topics
from tests.people import Cast


@pytest.fixture
def saw(cast: Cast) -> Topic:
    """A topic that asks no questions; those that do are in `test_questions.py`."""
    seed_topics(cast.school)
    Topic.objects.update(asks_questions=False)
    return Topic.objects.get(school=cast.school, code="saw-frame")
