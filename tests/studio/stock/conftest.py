"""The bench's morning serves here too."""

from tests.studio.bench.conftest import clock, world

__all__ = ["clock", "world"]
