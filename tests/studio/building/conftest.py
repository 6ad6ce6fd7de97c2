"""A store of evidence of each test's own, as for uploaded patterns."""

from tests.studio.patterns.conftest import evidence

__all__ = ["evidence"]
