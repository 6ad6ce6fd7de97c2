"""The bench of one student, as everybody's Spanish pages see it."""

from tests.studio.bench.conftest import clock, world

__all__ = ["clock", "world"]
